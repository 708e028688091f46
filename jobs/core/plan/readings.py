"""What tests that were made say, as outcomes that the plan knows."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean

from jobs.core.plan.evidence import Evidence, Figure, SwapDone, TestDone
from jobs.core.plan.focus import Focus
from jobs.core.plan.knowledge import GOOD, TEST_WORDS, TESTS, PlanTest
from jobs.core.request import named
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

BALANCE_KPA = 20.0
"""How far an injector's pressure drop may lie from the mean (a published balance example)."""
TRIM_OFF_PERCENT = 10.0
"""Short and long trim together from which a bank is lean or rich (common practice)."""
HELD_SHARE = 0.8
LOADED_SHARE = 0.85
"""Of the pressure at rest, what must stand after the wait and under load (common practice; the
manufacturer's figure wins)."""
_LOOKS = frozenset({"worn", "cracked", "wet", "oily", "sooty", "white"})
_AIR_AT = {
    "intake": "valve",
    "exhaust": "valve",
    "crankcase": "crankcase",
    "coolant": "coolant",
    "neighbour": "neighbour",
}
_NEEDLES = frozenset({"regular_flick", "occasional_flick"})


@dataclass(frozen=True, slots=True)
class Reading:
    """One outcome of a test that was made.

    Parameters
    ----------
    test, outcome
        By their names in `outcomes.toml`; `good` where nothing was found.
    cylinder
        What it is about; None for the whole engine or a bank.
    """

    test: str
    outcome: str
    cylinder: int | None = None

    @property
    def words(self) -> str:
        """The outcome in the reader's language."""
        name = _(TEST_WORDS[self.test].name)
        if TESTS[self.test].moves:
            said = _("stayed") if self.outcome == GOOD else _("followed")
        else:
            said = _("good") if self.outcome == GOOD else _(OUTCOME_WORDS[self.outcome])
        if self.cylinder is None:
            return _("{test}: {outcome}").format(test=name, outcome=said)
        return _("{test} on {cylinders}: {outcome}").format(
            test=name, cylinders=named([self.cylinder]), outcome=said
        )


OUTCOME_WORDS = {
    "bad": gettext_noop("bad"),
    "worn": gettext_noop("worn"),
    "cracked": gettext_noop("cracked"),
    "wet": gettext_noop("wet"),
    "oily": gettext_noop("oily"),
    "sooty": gettext_noop("sooty"),
    "white": gettext_noop("white"),
    "valve": gettext_noop("air at a valve"),
    "crankcase": gettext_noop("air at the oil filler"),
    "coolant": gettext_noop("air in the coolant"),
    "neighbour": gettext_noop("air at the neighbour"),
    "regular_flick": gettext_noop("regular flick"),
    "occasional_flick": gettext_noop("occasional flick"),
    "low": gettext_noop("low under load"),
    "falls": gettext_noop("falls at rest"),
    "lean_idle": gettext_noop("lean at idle"),
    "lean_load": gettext_noop("lean at speed"),
    "lean_all": gettext_noop("lean throughout"),
    "lean_bank": gettext_noop("one bank lean"),
    "rich": gettext_noop("rich"),
    "drops_less": gettext_noop("drops less than the others"),
    "drops_more": gettext_noop("drops more than the others"),
    "leaks_off": gettext_noop("leaks off or is corrected more than the others"),
    "rises": gettext_noop("rises with oil"),
}


def readings_in(evidence: Evidence, focus: Focus) -> tuple[Reading, ...]:
    """Return what the tests say about the focus, each test and outcome once.

    What is good on a cylinder that nobody suspects says nothing; what is bad there counts.
    """
    found: dict[tuple[str, str], Reading] = {}
    for reading in (*_of_tests(evidence), *_of_swaps(evidence)):
        is_elsewhere = reading.cylinder is not None and reading.cylinder not in focus.cylinders
        if is_elsewhere and reading.outcome == GOOD:
            continue
        found.setdefault((reading.test, reading.outcome), reading)
    return tuple(found.values())


def test_of(recorded: str, fuel: str) -> PlanTest | None:
    """Return the test of the plan under which a finding is recorded on an engine of this fuel."""
    fitting = [t for t in TESTS.values() if t.recorded == recorded and fuel in t.only]
    return next(iter(fitting), None)


test_of.__test__ = False  # type: ignore[attr-defined]  # pytest collects what is called so


def _of_tests(evidence: Evidence) -> Iterator[Reading]:
    for done in evidence.done:
        test = test_of(done.test, evidence.fuel)
        if test is None or done.outcome not in {"good", "bad"}:
            continue
        outcome = GOOD if done.outcome == "good" else _found(done, test, evidence)
        if outcome:
            yield Reading(test.key, outcome, done.cylinder)


def _found(done: TestDone, test: PlanTest, evidence: Evidence) -> str:
    """Return what a test that came out bad found; empty where the plan makes nothing of it."""
    figures = done.figures
    special = {
        "leak_down": lambda: _AIR_AT.get(str(figures.get("heard_at", "")), ""),
        "plugs": lambda: _among(figures.get("plug_look"), _LOOKS),
        "vacuum": lambda: _among(figures.get("needle"), _NEEDLES),
        "fuel_press": lambda: _of_pressure(figures),
        "trims": lambda: _of_trims([d for d in evidence.done if d.test == "trims"]),
        "injector": lambda: _of_balance(done, evidence),
    }.get(test.key)
    outcome = special() if special else ""
    outcome = outcome or "bad"
    return outcome if test.found(outcome) else ""


def _among(value: Figure | None, known: frozenset[str]) -> str:
    return str(value) if value in known else ""


def _number(figures: Mapping[str, Figure], name: str) -> float | None:
    value = figures.get(name)
    return float(value) if isinstance(value, int | float) else None


def _of_pressure(figures: Mapping[str, Figure]) -> str:
    rest, load, held = (_number(figures, k) for k in ("rest_kpa", "load_kpa", "held_kpa"))
    if rest and load is not None and load < LOADED_SHARE * rest:
        return "low"
    return "falls" if rest and held is not None and held < HELD_SHARE * rest else ""


def _of_trims(rows: Sequence[TestDone]) -> str:
    sums = [
        (_trim(r.figures, "idle"), _trim(r.figures, "fast"))
        for r in rows
        if r.outcome in {"good", "bad"}
    ]
    lean = [
        (i is not None and i >= TRIM_OFF_PERCENT, f is not None and f >= TRIM_OFF_PERCENT)
        for i, f in sums
    ]
    if any(v is not None and v <= -TRIM_OFF_PERCENT for pair in sums for v in pair):
        return "rich"
    off = [pair for pair in lean if any(pair)]
    if not off:
        return ""
    if len(off) < len(lean):
        return "lean_bank"
    at_idle, at_speed = all(i for i, _f in off), all(f for _i, f in off)
    if at_idle and at_speed:
        return "lean_all"
    return "lean_idle" if at_idle else "lean_load"


def _trim(figures: Mapping[str, Figure], at: str) -> float | None:
    parts = [_number(figures, f"{at}_{term}_percent") for term in ("short", "long")]
    known = [p for p in parts if p is not None]
    return sum(known) if known else None


def _of_balance(done: TestDone, evidence: Evidence) -> str:
    if _number(done.figures, "leak_off_ml") is not None:
        return "leaks_off"
    if _number(done.figures, "correction_mg") is not None:
        return "leaks_off"
    drops = [
        drop
        for one in evidence.done
        if one.test == "injector" and (drop := _number(one.figures, "drop_kpa")) is not None
    ]
    own = _number(done.figures, "drop_kpa")
    if own is None or len(drops) < 3:
        return ""
    off = own - fmean(drops)
    if abs(off) <= BALANCE_KPA:
        return ""
    return "drops_more" if off > 0 else "drops_less"


def _of_swaps(evidence: Evidence) -> Iterator[Reading]:
    for swap in evidence.swaps:
        outcome = {"yes": "yes", "no": GOOD}.get(swap.followed)
        if outcome:
            yield Reading(f"swap_{swap.part}", outcome, swap.from_cylinder)


def is_done(test: PlanTest, evidence: Evidence, focus: Focus) -> bool:
    """Return whether a test was made on what it would be asked for."""
    if test.moves:
        return any(_is_of_focus(s, focus) and s.part == test.moves for s in evidence.swaps)
    # a plug that was moved was looked at
    if test.key == "plugs" and any(
        _is_of_focus(s, focus) and s.part == "plug" for s in evidence.swaps
    ):
        return True
    return any(
        d.test == test.recorded
        and (d.cylinder is None or not focus.cylinders or d.cylinder in focus.cylinders)
        for d in evidence.done
        if d.outcome in {"good", "bad"}
    )


def _is_of_focus(swap: SwapDone, focus: Focus) -> bool:
    return not focus.cylinders or swap.from_cylinder in focus.cylinders
