"""Which initial checks a job asks for at once, and which only where somebody wants them.

What is asked follows from complaint, codes and fuel (common practice), so that the form stays
short. Nothing is forbidden: whatever is folded can be answered all the same.
"""

from dataclasses import dataclass, field

from jobs.core.code_meaning import code_base

ALWAYS = ("oil_level", "coolant_level")
"""A look at both takes a minute and comes before an engine is cranked."""


@dataclass(frozen=True, slots=True)
class JobAtHand:
    """What is known of a job when its initial checks are asked for.

    Parameters
    ----------
    fuel
        `petrol`, `gas` or `diesel`; empty where it is not known.
    happens, warning_lights
        Keys of `jobs.core.complaint`.
    codes
        Trouble codes, with or without a maker's suffix.
    cranks
        The cranking sound where it was noted: `fast`, `no_crank`, …
    says_coolant
        Whether customer or remarks say that coolant is lost.
    has_banks
        Whether the engine is known to have more than one bank.
    """

    fuel: str = ""
    happens: frozenset[str] = field(default_factory=frozenset)
    warning_lights: frozenset[str] = field(default_factory=frozenset)
    codes: frozenset[str] = field(default_factory=frozenset)
    cranks: str = ""
    says_coolant: bool = False
    has_banks: bool = False


@dataclass(frozen=True, slots=True)
class Questions:
    """Fields of the initial checks in their order: asked at once, folded, and not asked at all."""

    asked: tuple[str, ...]
    folded: tuple[str, ...]
    left_out: tuple[str, ...]


_TIMING = ("timing_work", "timing_work_odometer", "timing_work_on")
_FUEL = ("fuel_work", "fuel_work_odometer", "fuel_work_on")
_ORDER = (
    "oil_level",
    "oil_loss",
    "fuel_in_oil",
    "coolant_level",
    "coolant_loss",
    "plugs_age",
    *_TIMING,
    *_FUEL,
    "direction",
    "bank_a_side",
)

# Ranges of codes by SAE J2012 (ISO 15031-6), first and last of each.
_OIL = (("P0520", "P0524"),)
_COOLANT = (("P0115", "P0119"), ("P0128", "P0128"), ("P0217", "P0217"))
_RICH = (("P0172", "P0172"), ("P0175", "P0175"))
_CAM_AND_CRANK = (("P0008", "P0029"), ("P0335", "P0349"), ("P0365", "P0394"))
_FUEL_SYSTEM = (
    ("P0087", "P0094"),
    ("P0170", "P0175"),
    ("P0190", "P0194"),
    ("P0200", "P0212"),
    ("P0261", "P0296"),
)
_IGNITION = (("P0300", "P0316"), ("P0350", "P0362"))


@dataclass(frozen=True, slots=True)
class _AskedWhere:
    """What makes a job ask for some fields at once; any one of it will do."""

    fields: tuple[str, ...]
    happens: frozenset[str] = frozenset()
    lights: frozenset[str] = frozenset()
    cranks: frozenset[str] = frozenset()
    fuels: frozenset[str] = frozenset()
    codes: tuple[tuple[str, str], ...] = ()

    def holds(self, job: JobAtHand) -> bool:
        """Return whether the job asks for them."""
        known = {code_base(code) for code in job.codes}
        return (
            bool(self.happens & job.happens or self.lights & job.warning_lights)
            or job.cranks in self.cranks
            or job.fuel in self.fuels
            or any(first <= code <= last for code in known for first, last in self.codes)
        )


_OVERNIGHT = frozenset({"cold", "after_standing"})
"""What seeps into a cylinder overnight shows when the engine is started cold."""
_RULES = (
    _AskedWhere(("oil_loss",), happens=_OVERNIGHT, lights=frozenset({"oil_pressure"}), codes=_OIL),
    _AskedWhere(
        ("coolant_loss",), happens=_OVERNIGHT, lights=frozenset({"coolant"}), codes=_COOLANT
    ),
    _AskedWhere(
        ("fuel_in_oil",),
        happens=frozenset({"starting", "hot_restart"}),
        fuels=frozenset({"diesel"}),
        codes=_RICH,
    ),
    _AskedWhere(_TIMING, cranks=frozenset({"fast", "no_crank"}), codes=_CAM_AND_CRANK),
    _AskedWhere(_FUEL, happens=frozenset({"after_fuel"}), codes=_FUEL_SYSTEM),
    _AskedWhere(
        ("plugs_age",),
        happens=frozenset({"wet", "accelerating", "uphill"}),
        lights=frozenset({"engine_flashing"}),
        codes=_IGNITION,
    ),
)


def questions_for(job: JobAtHand) -> Questions:
    """Return what is asked of a job at once, what is folded, and what does not concern it."""
    asked = {*ALWAYS, *(name for rule in _RULES if rule.holds(job) for name in rule.fields)}
    if job.says_coolant:
        asked.add("coolant_loss")
    left_out = {"plugs_age"} if job.fuel == "diesel" else set()
    if job.has_banks:
        asked.update({"direction", "bank_a_side"})
    else:
        left_out.add("bank_a_side")
    return Questions(
        asked=tuple(n for n in _ORDER if n in asked - left_out),
        folded=tuple(n for n in _ORDER if n not in asked | left_out),
        left_out=tuple(n for n in _ORDER if n in left_out),
    )
