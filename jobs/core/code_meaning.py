"""What a trouble code means in general words, as far as the standard fixes it.

Grammar and areas: SAE J2012 / ISO 15031-6. Single meanings are given for the codes that
matter to a driveability diagnosis; for the rest the area is named. Our own wording.
"""

from dataclasses import dataclass
from pathlib import Path

from engines.core.content import content
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

_SYSTEMS = {
    "P": gettext_noop("Powertrain"),
    "C": gettext_noop("Chassis"),
    "B": gettext_noop("Body"),
    "U": gettext_noop("Network"),
}

# Third character of P0 and P2 codes. Areas 0-7 are in SAE J2012's general description and in
# makers' service text that quotes it; 8-C are from memory.
_AREAS_P0 = {
    "0": gettext_noop("fuel, air and auxiliary emission control"),
    "1": gettext_noop("fuel and air metering"),
    "2": gettext_noop("fuel and air metering, injectors"),
    "3": gettext_noop("ignition or misfire"),
    "4": gettext_noop("auxiliary emission control"),
    "5": gettext_noop("vehicle speed, idle control and auxiliary inputs"),
    "6": gettext_noop("control unit and its outputs"),
    "7": gettext_noop("transmission"),
    "8": gettext_noop("transmission"),
    "9": gettext_noop("transmission"),
    "A": gettext_noop("hybrid drive"),
    "B": gettext_noop("hybrid drive"),
    "C": gettext_noop("hybrid drive"),
}
_AREAS_P2 = {
    **_AREAS_P0,
    "1": gettext_noop("fuel, air and throttle"),
    "5": gettext_noop("auxiliary inputs"),
}

_MISFIRE = "misfire"


@dataclass(frozen=True, slots=True)
class SingleCode:
    """A code in general words, what it is about, and the bank it names, if it names one."""

    words: str
    group: str
    bank: str = ""


_SINGLE = content(Path(__file__).parent / "texts" / "code_meanings.toml", SingleCode)

_SEEN_IN_A_BANK = frozenset({"mixture", "exhaust"})
_OF_WEAK_BANKS = frozenset(
    code for code, single in _SINGLE.items() if single.bank and single.group in _SEEN_IN_A_BANK
) | {
    *("P0008", "P0009", "P0016", "P0017", "P0018", "P0019"),
    *("P0012", "P0015", "P0022", "P0025"),
}
"""An advanced cam raises the compression of its bank, and an actuator's circuit is wiring."""
_COOLANT = frozenset({"P0217", "P0128"})

_MISFIRE_CYLINDERS = {f"P03{n:02d}": n for n in range(1, 13)}
# From memory: P0201-P0212 are the injector circuits of cylinders 1-12, P0351-P0362 the
# ignition coils A-L, whose letters a maker ties to cylinders.
_INJECTOR_CYLINDERS = {f"P02{n:02d}": n for n in range(1, 13)}
# From memory: three codes for each cylinder, P0261-P0296, and P0671-P0682 for its glow plug.
_LEVELS = (
    gettext_noop("Injector of cylinder {cylinder}, circuit low"),
    gettext_noop("Injector of cylinder {cylinder}, circuit high"),
    gettext_noop("Injector of cylinder {cylinder}, contribution or balance"),
)
_INJECTOR_LEVELS = {
    f"P0{261 + 3 * (n - 1) + k}": (n, words)
    for n in range(1, 13)
    for k, words in enumerate(_LEVELS)
}
_CONTRIBUTIONS = {code: n for code, (n, words) in _INJECTOR_LEVELS.items() if words == _LEVELS[2]}
_GLOW_PLUGS = {f"P0{670 + n}": n for n in range(1, 13)}
_COILS = {f"P03{50 + n}": "ABCDEFGHIJKL"[n - 1] for n in range(1, 13)}


_OF_CYLINDERS: dict[str, tuple[str, int | str, str]] = (
    {
        code: (gettext_noop("Misfire on cylinder {cylinder}"), n, _MISFIRE)
        for code, n in _MISFIRE_CYLINDERS.items()
    }
    | {
        code: (gettext_noop("Injector of cylinder {cylinder}, circuit"), n, _AREAS_P0["2"])
        for code, n in _INJECTOR_CYLINDERS.items()
    }
    | {code: (words, n, _AREAS_P0["2"]) for code, (n, words) in _INJECTOR_LEVELS.items()}
    | {
        code: (gettext_noop("Glow plug of cylinder {cylinder}, circuit"), n, "glow plugs")
        for code, n in _GLOW_PLUGS.items()
    }
    | {
        code: (gettext_noop("Ignition coil {cylinder}, circuit"), c, "ignition")
        for code, c in _COILS.items()
    }
)
"""Words of a code, the cylinder or coil that fills them, and what it belongs with."""


@dataclass(frozen=True, slots=True)
class CodeMeaning:
    """A code in general words.

    Attributes
    ----------
    words
        One phrase for the card.
    group
        What it belongs with: "misfire", "cam timing", "ignition or misfire", ...
    cylinder
        Cylinder that the code names, by misfire, injector or glow plug; else None.
    bank
        Bank that it names, 1 or 2; else None.
    maker_specific
        True where the maker, not the standard, says what it means; None where the range
        holds both kinds.
    """

    words: str
    group: str
    cylinder: int | None
    maker_specific: bool | None
    bank: int | None = None


def code_base(code: str) -> str:
    """Return the five characters of a code without its failure type."""
    return code[:5]


def misfire_cylinder(code: str) -> int | None:
    """Return the cylinder that P0301-P0312 names (SAE J2012), else None."""
    return _MISFIRE_CYLINDERS.get(code_base(code))


def code_meaning(code: str) -> CodeMeaning:
    """Return what a recognised code means in general words."""
    base = code_base(code)
    found = _known(base)
    words, group, maker = found or _by_area(base)
    if len(code) > 6:
        words = _("{meaning} (failure type {kind})").format(meaning=words, kind=code[6:])
    return CodeMeaning(
        words=words,
        group=group,
        cylinder=cylinder_named(base),
        maker_specific=maker,
        bank=bank_named(base),
    )


def cylinder_named(code: str) -> int | None:
    """Return the cylinder that a code names by misfire, injector or glow plug, else None."""
    base = code_base(code)
    level = _INJECTOR_LEVELS.get(base)
    return (
        misfire_cylinder(base)
        or _INJECTOR_CYLINDERS.get(base)
        or (level[0] if level else None)
        or _GLOW_PLUGS.get(base)
    )


def weak_cylinder(code: str) -> int | None:
    """Return the cylinder that a code says does less work: misfire, or contribution; else None."""
    base = code_base(code)
    return misfire_cylinder(base) or _CONTRIBUTIONS.get(base)


def bank_named(code: str) -> int | None:
    """Return the bank that a code names, 1 or 2, else None."""
    found = _SINGLE.get(code_base(code))
    return int(found.bank) if found and found.bank else None


def weak_bank(code: str) -> int | None:
    """Return the bank, 1 or 2, that a code says burns badly or is timed wrongly; else None.

    A cylinder without compression sends unburnt air into the exhaust of its own bank: mixture and
    catalyst are then blamed for it (common practice).
    """
    base = code_base(code)
    return bank_named(base) if base in _OF_WEAK_BANKS else None


def is_coolant_code(code: str) -> bool:
    """Return whether a code can come from lost coolant: too hot, or never warm."""
    return code_base(code) in _COOLANT


def _known(base: str) -> tuple[str, str, bool | None] | None:
    if base in _OF_CYLINDERS:
        words, cylinder, group = _OF_CYLINDERS[base]
        return _(words).format(cylinder=cylinder), group, False
    found = _SINGLE.get(base)
    return (_(found.words), found.group, False) if found else None


def _by_area(base: str) -> tuple[str, str, bool | None]:
    system, kind, third = base[0], base[1], base[2]
    name = _(_SYSTEMS[system])
    if kind == "3":
        words = _(
            "{system}: manufacturer-specific or standard, look it up in the manufacturer's list"
        )
        return words.format(system=name), "maker", None
    # From memory: 2 is the standard's for powertrain and the maker's for the other three.
    if kind == "1" or (kind == "2" and system != "P"):
        words = _("{system}: manufacturer-specific, look it up in the manufacturer's list")
        return words.format(system=name), "maker", True
    if system != "P":
        words = _("{system}: standard code, look it up in SAE J2012")
        return words.format(system=name), _SYSTEMS[system].lower(), False
    area = (_AREAS_P2 if kind == "2" else _AREAS_P0).get(third)
    if area is None:
        return (
            _("{system}: reserved by the standard, look it up").format(system=name),
            "reserved",
            False,
        )
    return _("{system}: {area}").format(system=name, area=_(area)), area, False
