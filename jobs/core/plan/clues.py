"""What of the evidence speaks for or against causes, each with its cylinders and codes."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from jobs.core.code_meaning import bank_named, code_base
from jobs.core.measured_tests.scanned import frame_words
from jobs.core.patterns import Pattern
from jobs.core.plan.evidence import Evidence
from jobs.core.plan.focus import Focus, do_all_count, do_all_misfire, is_hardly_counted
from jobs.core.plan.knowledge import CLUES
from jobs.core.request import named
from shopdiag.people.core.words import gettext as _

ROUGH = frozenset({"always", "sometimes", "idle", "cold", "warm", "steady", "wet", "slowing"})
"""When the customer says that it happens, where that means a running engine that is rough."""
PLUGS_OLD_KM = 60_000.0
"""Plugs that have run so far may be worn (common practice; intervals of 60,000 to 120,000 km)."""
PLUGS_YOUNG_KM = 15_000.0

# Numbers of SAE J2012 / ISO 15031-6.
_OF_CODES = {
    "code_glow": re.compile(r"P06(?:7\d|8[0-2])|P0380"),
    "code_crank": re.compile(r"P033[5-9]"),
    "code_phaser": re.compile(r"P00(?:1[0-5]|2[0-5])"),
    "code_air_meter": re.compile(r"P010[0-4]"),
    "code_oxygen": re.compile(r"P01(?:3\d|4[0-7]|5\d|6[0-7])"),
    "code_boost": re.compile(r"P0299"),
    "code_purge": re.compile(r"P04(?:4[1-58-9]|5[89]|9[67])"),
    "code_pump": re.compile(r"P023[0-3]|P062[7-9]"),
    "code_low_fuel": re.compile(r"P0313"),
    "code_rail": re.compile(r"P0087"),
    "code_catalyst": re.compile(r"P04[23]0"),
    "code_egr": re.compile(r"P040[0-9]"),
    "code_voltage": re.compile(r"P056[0-3]"),
    "code_coolant": re.compile(r"P0217|P0128"),
}
_CIRCUITS = (
    ("code_coil", "code_coils", re.compile(r"P03(?:5\d|6[0-2])")),
    (
        "code_injector",
        "code_injectors",
        re.compile(r"P02(?:0[1-9]|1[0-2])|P0(?:26[1-9]|2[78]\d|29[0-6])"),
    ),
)
"""Clue of one part's circuit, clue where several parts name theirs, and the codes."""
_LEAN, _RICH = re.compile(r"P017[14]"), re.compile(r"P017[25]")
_CAM = re.compile(r"P00(?:0[89]|1[6-9])")
_CONTRIBUTION = frozenset(f"P0{263 + 3 * n}" for n in range(12))
"""The third of the three codes of each cylinder from P0261 on."""

_WHEN = {
    "when_always": {"always"},
    "when_wet": {"wet"},
    "when_cold": {"cold"},
    "when_warm": {"warm"},
    "when_hot_restart": {"hot_restart"},
    "when_starting": {"starting"},
    "when_after_fuel": {"after_fuel"},
    "when_after_standing": {"after_standing"},
    "when_sometimes": {"sometimes"},
}
_SAID = frozenset(
    {
        *("oil_lost", "oil_low", "fuel_in_oil"),
        *("timing_worked_on", "fuel_worked_on", "ignition_worked_on", "plugs_old", "plugs_young"),
    }
)
_LOAD = frozenset({"accelerating", "uphill"})
_OF_LOW = {
    Pattern.ADJACENT: "weak_neighbours",
    Pattern.COMPANIONS: "weak_companions",
    Pattern.SAME_BANK: "weak_same_bank",
    Pattern.BANK: "weak_bank",
    Pattern.ALL: "weak_all",
    Pattern.SEVERAL: "weak_several",
    Pattern.ONE: "weak_one",
}
"""Clue by pattern, the one that goes first first where several apply."""


@dataclass(frozen=True, slots=True)
class Clue:
    """One thing that speaks for or against causes.

    Parameters
    ----------
    key
        Its name in `ratios.toml`.
    cylinders, codes
        What it is about, where it is about some.
    distance_km
        How far plugs have run.
    """

    key: str
    cylinders: tuple[int, ...] = ()
    codes: tuple[str, ...] = ()
    distance_km: float = 0.0

    @property
    def is_soft(self) -> bool:
        """Whether it is what somebody said or a spread of misfires, not a code or a test."""
        return self.key.startswith(("when_", "misfire_", "not_")) or self.key in _SAID

    @property
    def words(self) -> str:
        """The clue in the reader's language."""
        return _(CLUES[self.key].words).format(
            cylinders=named(self.cylinders) if self.cylinders else "",
            codes=", ".join(self.codes),
            distance_km=f"{self.distance_km:,.0f}",
        )


def clues_in(evidence: Evidence, focus: Focus) -> tuple[Clue, ...]:
    """Return all clues of the evidence but those of tests made, each once."""
    return (
        *_of_misfires(evidence, focus),
        *_of_fitting(evidence, focus),
        *_of_codes(evidence),
        *_of_compression(evidence),
        *_of_idle(evidence),
        *_of_pressures(evidence),
        *_of_conditions(evidence),
        *_of_said(evidence),
        *_of_kind(evidence),
    )


def _of_misfires(evidence: Evidence, focus: Focus) -> Iterator[Clue]:
    weak = set(evidence.compression.weak)
    # that a weak cylinder misfires says nothing of why it is weak
    explained = bool(focus.misfiring) and focus.misfiring <= weak | evidence.compression.high
    if focus.spread != "none" and not explained:
        yield Clue(f"misfire_{focus.spread}", tuple(sorted(focus.misfiring)))
    elif evidence.happens and not ROUGH & evidence.happens and focus.spread == "none":
        yield Clue("not_rough")
    if weak and focus.misfiring and not weak & focus.misfiring:
        yield Clue("named_elsewhere", tuple(sorted(focus.misfiring)))
    if is_hardly_counted(evidence):
        yield Clue("hardly_counted")
    if evidence.verified == "no" and do_all_count(evidence):
        yield Clue("counted_not_felt")


def _of_fitting(evidence: Evidence, focus: Focus) -> Iterator[Clue]:
    """Yield what follows from parts that cylinders share: they fail on all of those."""
    is_all = do_all_misfire(evidence)
    some = () if is_all else tuple(sorted(focus.misfiring))
    if focus.spread == "none":
        return
    if evidence.ignition == "pairs" and focus.spread == "one" and not is_all:
        yield Clue("pair_coil_one", some)
    elif evidence.ignition == "distributor":
        yield Clue("one_coil", some) if some else Clue("one_coil_all")
    if evidence.injection == "single_point":
        yield Clue("one_injector", some) if some else Clue("one_injector_all")


def _of_codes(evidence: Evidence) -> Iterator[Clue]:
    codes = sorted({code_base(code) for code, _status in evidence.codes})
    for key, pattern in _OF_CODES.items():
        found = tuple(c for c in codes if pattern.fullmatch(c) and c not in _CONTRIBUTION)
        if found:
            yield Clue(key, codes=found)
    for of_one, of_several, pattern in _CIRCUITS:
        found = tuple(c for c in codes if pattern.fullmatch(c) and c not in _CONTRIBUTION)
        if found:
            is_one = len({_part_named(code) for code in found}) == 1
            yield Clue(of_one if is_one else of_several, codes=found)
    contributions = tuple(c for c in codes if c in _CONTRIBUTION)
    if contributions:
        yield Clue("code_contribution", codes=contributions)
    for pattern, of_bank, of_all in (
        (_LEAN, "code_lean_bank", "code_lean_all"),
        (_RICH, "code_rich_bank", "code_rich"),
        (_CAM, "code_cam_bank", "code_cam_all"),
    ):
        found = tuple(c for c in codes if pattern.fullmatch(c))
        if found:
            banks = {bank_named(c) for c in found}
            # that a code names bank 2 proves that there are two
            one_of_two = banks == {2} or (len(banks) == 1 and bool(evidence.engine.banks))
            yield Clue(of_bank if one_of_two else of_all, codes=found)
    of_position = (_CAM, _OF_CODES["code_phaser"], _OF_CODES["code_crank"])
    if codes and not any(p.fullmatch(c) for p in of_position for c in codes):
        yield Clue("no_cam_or_crank_code")


def _part_named(code: str) -> int:
    """Return which coil or injector a circuit code names, counted from 1; 0 for none."""
    number = int(code[1:])
    if number >= 350:
        return number - 350
    return number - 200 if number < 261 else (number - 261) // 3 + 1


def _of_compression(evidence: Evidence) -> Iterator[Clue]:
    test, patterns = evidence.compression, evidence.patterns
    weak = tuple(sorted(test.weak))
    if test.high:
        both = Pattern.HIGH_COMPANIONS in patterns
        yield Clue("high_companions" if both else "high_one", tuple(sorted(test.high)))
    if test.result == "open":
        yield Clue("open", weak)
    elif weak:
        key = next((key for p, key in _OF_LOW.items() if p in patterns), "weak_several")
        yield Clue("weak_one" if len(weak) == 1 else key, weak)
    if test.weaker_bank and not weak:
        yield Clue("weak_bank", tuple(sorted(test.weaker_bank)))
    for pattern in (Pattern.FAST_EVEN, Pattern.COMES_AND_GOES, Pattern.LOW_AT_FIRST):
        if pattern in patterns:
            yield Clue(pattern.value)
    if evidence.is_even and Pattern.FAST_EVEN not in patterns:
        yield Clue(_of_even(evidence))
    if test.captures > 1 and (weak or test.high or test.weaker_bank):
        yield Clue("captures_agree")


def _of_idle(evidence: Evidence) -> Iterator[Clue]:
    idle = evidence.idle
    if idle.rests_on_flywheel:
        # it speaks of one cylinder or another, so that none is named and no test contradicted
        if idle.burns_badly or idle.weak_in_both:
            yield Clue("idle_unsure")
        return
    for key, cylinders in (
        ("idle_burn", idle.burns_badly),
        ("idle_both", idle.weak_in_both),
        ("idle_contradicts", idle.contradicted),
    ):
        if cylinders:
            yield Clue(key, tuple(sorted(cylinders)))
    if idle.is_even:
        yield Clue("idle_even")


def _of_pressures(evidence: Evidence) -> Iterator[Clue]:
    found = evidence.in_cylinder
    for key, cylinders in (
        ("pressure_leak", found.leaking),
        ("pressure_low", found.filling_less),
        ("pressure_fitful", found.comes_and_goes),
    ):
        if cylinders:
            yield Clue(key, tuple(sorted(cylinders)))
    if found.is_exhaust_blocked:
        yield Clue("pressure_exhaust")
    if found.is_exhaust_free:
        yield Clue("pressure_free")
    if found.is_cam_off:
        yield Clue("pressure_cam")


def _of_even(evidence: Evidence) -> str:
    """Return the clue of an even test: how much it says hangs on whether it was tried warm."""
    if evidence.was_first_warm:
        return "even_not_cold" if evidence.is_untried_cold else "even_before_cold"
    repeats = evidence.warm_repeats
    if not evidence.was_first_cold or repeats == {"good"}:
        return evidence.compression.result
    if repeats:
        return "even_before_warm"
    return "even_not_warm" if evidence.compression.temperature else "even_warm_not_noted"


def _of_conditions(evidence: Evidence) -> Iterator[Clue]:
    happens = _happens_by_frame(evidence)
    for key, conditions in _WHEN.items():
        if conditions & happens:
            yield Clue(key)
    is_idle, is_load = "idle" in happens, bool(_LOAD & happens)
    # what happens at idle and under load alike tells neither from the other
    if is_idle != is_load and "always" not in happens:
        yield Clue("when_idle" if is_idle else "when_load")
    if evidence.verified == "no":
        yield Clue("not_duplicated")
    if evidence.cranks == "slow":
        yield Clue("cranks_slow")
    elif evidence.cranks == "no_crank":
        yield Clue("no_crank")


def _happens_by_frame(evidence: Evidence) -> frozenset[str]:
    """Return when it happens, as said; where nobody said, by a code's freeze frame."""
    happens = evidence.happens
    recorded = (d.figures for d in evidence.done if d.test == "frame")
    found = {word for values in (*recorded, *evidence.frames) for word in frame_words(values)}
    # warm is how any code is stored mostly
    if "cold" in found and not {"cold", "warm", "always"} & happens:
        happens |= {"cold"}
    if not {"idle", "always", *_LOAD} & happens:
        happens |= {"accelerating"} if "load" in found else found & {"idle"}
    return happens


def _of_said(evidence: Evidence) -> Iterator[Clue]:
    said = evidence.said
    facts = {
        "coolant_lost": said.loses_coolant,
        "oil_lost": said.oil_loss,
        "oil_low": said.oil_level == "low",
        "fuel_in_oil": said.fuel_in_oil,
        "timing_worked_on": said.timing_work,
        "fuel_worked_on": said.fuel_work,
        "ignition_worked_on": said.ignition_work,
    }
    yield from (Clue(key) for key, holds in facts.items() if holds)
    age_km = said.plugs_age_km
    if age_km is None or evidence.fuel == "diesel":
        return
    if are_plugs_due(evidence):
        yield Clue("plugs_old", distance_km=age_km)
    elif age_km <= PLUGS_YOUNG_KM and not said.ignition_work:
        yield Clue("plugs_young", distance_km=age_km)


def _of_kind(evidence: Evidence) -> Iterator[Clue]:
    if evidence.fuel in {"gas", "diesel"}:
        yield Clue(f"on_{evidence.fuel}")
    if evidence.fuel == "diesel" or not evidence.injection:
        return
    yield Clue("direct_injected" if evidence.injection == "direct" else "port_injected")


def are_plugs_due(evidence: Evidence) -> bool:
    """Return whether the plugs have run so far that they come out whatever is found."""
    age_km = evidence.said.plugs_age_km
    return evidence.fuel != "diesel" and age_km is not None and age_km >= PLUGS_OLD_KM


def names_a_cam(evidence: Evidence) -> bool:
    """Return whether a code names a cam's position or its phaser."""
    patterns = (_CAM, _OF_CODES["code_phaser"])
    return any(p.fullmatch(code_base(code)) for code, _status in evidence.codes for p in patterns)


def names_a_phaser(evidence: Evidence) -> bool:
    """Return whether a code names a phaser."""
    codes = (code_base(code) for code, _status in evidence.codes)
    return any(_OF_CODES["code_phaser"].fullmatch(code) for code in codes)
