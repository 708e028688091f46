"""What a trouble code means in general words, as far as the standard fixes it.

Grammar and areas: SAE J2012 / ISO 15031-6. Single meanings are given for the codes that
matter to a driveability diagnosis; for the rest the area is named. Our own wording.
"""

from dataclasses import dataclass

_SYSTEMS = {"P": "Powertrain", "C": "Chassis", "B": "Body", "U": "Network"}

# Third character of P0 and P2 codes. Areas 0-7 are in SAE J2012's general description and in
# makers' service text that quotes it; 8-C are from memory.
_AREAS_P0 = {
    "0": "fuel, air and auxiliary emission control",
    "1": "fuel and air metering",
    "2": "fuel and air metering, injectors",
    "3": "ignition or misfire",
    "4": "auxiliary emission control",
    "5": "vehicle speed, idle control and auxiliary inputs",
    "6": "control unit and its outputs",
    "7": "transmission",
    "8": "transmission",
    "9": "transmission",
    "A": "hybrid drive",
    "B": "hybrid drive",
    "C": "hybrid drive",
}
_AREAS_P2 = {**_AREAS_P0, "1": "fuel, air and throttle", "5": "auxiliary inputs"}

_MISFIRE = "misfire"
_SINGLE: dict[str, tuple[str, str]] = {
    "P0300": ("Misfire on several cylinders or at random", _MISFIRE),
    "P0313": ("Misfire while the fuel level is low", _MISFIRE),
    "P0314": ("Misfire on one cylinder, which one is not said", _MISFIRE),
    "P0316": ("Misfire in the first revolutions after the start", _MISFIRE),
    "P0016": ("Crankshaft and camshaft do not agree, bank 1 sensor A", "cam timing"),
    "P0017": ("Crankshaft and camshaft do not agree, bank 1 sensor B", "cam timing"),
    "P0018": ("Crankshaft and camshaft do not agree, bank 2 sensor A", "cam timing"),
    "P0019": ("Crankshaft and camshaft do not agree, bank 2 sensor B", "cam timing"),
    "P0335": ("Crankshaft position sensor A, circuit", "crank or cam sensor"),
    "P0340": ("Camshaft position sensor A (bank 1), circuit", "crank or cam sensor"),
}
_MISFIRE_CYLINDERS = {f"P03{n:02d}": n for n in range(1, 13)}
# From memory: P0201-P0212 are the injector circuits of cylinders 1-12, P0351-P0362 the
# ignition coils A-L, whose letters a maker ties to cylinders.
_INJECTOR_CYLINDERS = {f"P02{n:02d}": n for n in range(1, 13)}
_COILS = {f"P03{50 + n}": "ABCDEFGHIJKL"[n - 1] for n in range(1, 13)}


@dataclass(frozen=True, slots=True)
class Meaning:
    """A code in general words.

    Attributes
    ----------
    words
        One phrase for the card.
    group
        What it belongs with: "misfire", "cam timing", "ignition or misfire", ...
    cylinder
        Cylinder of a misfire code P0301-P0312, else None.
    maker_specific
        True where the maker, not the standard, says what it means; None where the range
        holds both kinds.
    """

    words: str
    group: str
    cylinder: int | None
    maker_specific: bool | None


def code_base(code: str) -> str:
    """Return the five characters of a code without its failure type."""
    return code[:5]


def misfire_cylinder(code: str) -> int | None:
    """Return the cylinder that P0301-P0312 names (SAE J2012), else None."""
    return _MISFIRE_CYLINDERS.get(code_base(code))


def code_meaning(code: str) -> Meaning:
    """Return what a recognised code means in general words."""
    base = code_base(code)
    found = _known(base)
    words, group, maker = found or _by_area(base)
    return Meaning(
        words=words + _failure_type(code),
        group=group,
        cylinder=misfire_cylinder(base),
        maker_specific=maker,
    )


def _known(base: str) -> tuple[str, str, bool | None] | None:
    if base in _MISFIRE_CYLINDERS:
        return f"Misfire on cylinder {_MISFIRE_CYLINDERS[base]}", _MISFIRE, False
    if base in _INJECTOR_CYLINDERS:
        words = f"Injector of cylinder {_INJECTOR_CYLINDERS[base]}, circuit"
        return words, _AREAS_P0["2"], False
    if base in _COILS:
        return f"Ignition coil {_COILS[base]}, circuit", "ignition", False
    if base in _SINGLE:
        return *_SINGLE[base], False
    return None


def _by_area(base: str) -> tuple[str, str, bool | None]:
    system, kind, third = base[0], base[1], base[2]
    name = _SYSTEMS[system]
    if kind == "3":
        return f"{name}: maker-specific or standard, look it up in the maker's list", "maker", None
    # From memory: 2 is the standard's for powertrain and the maker's for the other three.
    if kind == "1" or (kind == "2" and system != "P"):
        return f"{name}: maker-specific, look it up in the maker's list", "maker", True
    if system != "P":
        return f"{name}: standard code, look it up in SAE J2012", name.lower(), False
    area = (_AREAS_P2 if kind == "2" else _AREAS_P0).get(third)
    if area is None:
        return f"{name}: reserved by the standard, look it up", "reserved", False
    return f"{name}: {area}", area, False


def _failure_type(code: str) -> str:
    return f" (failure type {code[6:]})" if len(code) > 6 else ""
