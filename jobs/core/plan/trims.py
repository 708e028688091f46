"""What fuel trims say, all banks together, by the limits of the figures themselves."""

from collections.abc import Iterable, Mapping

from jobs.core.measured_tests import TESTS as TYPED
from jobs.core.measured_tests import Limit
from jobs.core.plan.evidence import Evidence, Figure, TestDone
from jobs.core.plan.knowledge import GOOD


def trims_outcome(evidence: Evidence) -> str:
    """Return the one outcome of the trims by all banks; empty where they say nothing.

    Good only where every bank that was read is good; `bad` where what is wrong stays open.
    """
    rows = {d.bank: d for d in evidence.done if d.test == "trims"}
    outcomes = {row.outcome for row in rows.values()}
    if outcomes == {"good"}:
        return GOOD
    if "bad" not in outcomes:
        return ""
    return _pattern(rows, evidence) or "bad"


def _pattern(rows: Mapping[int | None, TestDone], evidence: Evidence) -> str:
    """Return which pattern all banks together show; empty where they leave it open."""
    is_lean = {bank: _missed(row.figures, is_rich=False) for bank, row in rows.items()}
    if any(True in _missed(row.figures, is_rich=True) for row in rows.values()):
        return "rich"
    off = {bank for bank, at in is_lean.items() if True in at}
    others = rows.keys() - off
    if not off or not _are_all(rows.keys(), evidence):
        return ""
    if others:
        is_fine = all(rows[b].outcome == "good" or is_lean[b] == (False, False) for b in others)
        return "lean_bank" if is_fine else ""
    if any(None in at for at in is_lean.values()):
        return ""
    at_idle, at_speed = (all(at[place] for at in is_lean.values()) for place in (0, 1))
    if at_idle and at_speed:
        return "lean_all"
    return "lean_idle" if at_idle else "lean_load" if at_speed else ""


def _are_all(banks: Iterable[int | None], evidence: Evidence) -> bool:
    """Return whether every bank of the engine was read."""
    read = set(banks)
    known = set(evidence.engine.banks.values()) or {1}
    return None in read or known <= read


def _missed(figures: Mapping[str, Figure], *, is_rich: bool) -> tuple[bool | None, bool | None]:
    """Return whether the sums at idle and at speed are lean, or rich; None where not read."""
    by_end = [
        None if (ends := _beyond("trims", name, figures)) is None else ends[not is_rich]
        for name in ("idle_sum_percent", "fast_sum_percent")
    ]
    return by_end[0], by_end[1]


def is_above(test: str, name: str, figures: Mapping[str, Figure]) -> bool:
    """Return whether a derived figure passes its usual upper limit; not where it is not known."""
    beyond = _beyond(test, name, figures)
    return beyond is not None and beyond[1]


def _beyond(test: str, name: str, figures: Mapping[str, Figure]) -> tuple[bool, bool] | None:
    """Return whether a figure lies below and above its usual limits; None where it is not known."""
    figure = TYPED[test].figure(name)
    value = figure.of(figures) if figure else None
    if figure is None or not isinstance(value, int | float):
        return None
    limit = figure.limit or Limit()
    return (
        limit.least is not None and value < limit.least,
        limit.most is not None and value > limit.most,
    )
