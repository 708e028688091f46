"""What fuel trims say, all banks together, by the limits that were in force."""

from collections.abc import Collection, Mapping

from jobs.core.plan.evidence import EngineFacts, Evidence, TestDone
from jobs.core.plan.held import side_missed
from jobs.core.plan.knowledge import GOOD


def trims_outcome(evidence: Evidence) -> str:
    """Return the one outcome of the trims by all banks; empty where they say nothing.

    Good only where every bank that can be read was read and is good, at idle and at speed; `bad`
    where what is wrong stays open. Which pattern is bad is told only where all banks were read.
    """
    asked = [d for d in evidence.done if d.test == "trims"]
    rows = {d.bank: d for d in asked if d.outcome != "not_done"}
    outcomes = {row.outcome for row in rows.values()}
    if outcomes == {"good"}:
        # read at idle alone they say nothing of the load
        is_half = any(d.figures and None in _missed(d, is_rich=False) for d in rows.values())
        is_unread = bool(banks_unread({d.bank for d in asked}, evidence.engine))
        return "" if is_half or is_unread else GOOD
    if "bad" not in outcomes:
        return ""
    return _pattern(rows, evidence) or "bad"


def _pattern(rows: Mapping[int | None, TestDone], evidence: Evidence) -> str:
    """Return which pattern all banks together show; empty where they leave it open."""
    is_lean = {bank: _missed(row, is_rich=False) for bank, row in rows.items()}
    if rich := _rich_pattern(rows, evidence):
        return rich
    off = {bank for bank, at in is_lean.items() if True in at}
    others = rows.keys() - off
    if not off or banks_unread(rows, evidence.engine):
        return ""
    if others:
        is_fine = all(rows[b].outcome == "good" or is_lean[b] == (False, False) for b in others)
        is_idle_only = all(is_lean[bank] == (True, False) for bank in off)
        return ("lean_bank_idle" if is_idle_only else "lean_bank") if is_fine else ""
    if any(None in at for at in is_lean.values()):
        return ""
    at_idle, at_speed = (all(at[place] for at in is_lean.values()) for place in (0, 1))
    if at_idle and at_speed:
        return "lean_all"
    return "lean_idle" if at_idle else "lean_load" if at_speed else ""


def _rich_pattern(rows: Mapping[int | None, TestDone], evidence: Evidence) -> str:
    """Return how the banks are rich; empty where none is."""
    is_rich = [_missed(row, is_rich=True) for row in rows.values()]
    off = [at for at in is_rich if True in at]
    if not off:
        return ""
    if len(off) == 1 < len(rows) and not banks_unread(rows, evidence.engine):
        return "rich_bank"
    # fumes or a leak weigh most where the engine draws least
    return "rich_idle" if all(at == (True, False) for at in off) else "rich"


def banks_unread(read: Collection[int | None], engine: EngineFacts) -> tuple[int, ...]:
    """Return the banks of the engine that were not read, where some were."""
    if not read or None in read:
        return ()
    # a bank 2 proves a bank 1 where nobody knows the engine
    known = set(engine.banks.values()) or {1}
    return tuple(sorted(known - set(read)))


def _missed(row: TestDone, *, is_rich: bool) -> tuple[bool | None, bool | None]:
    """Return whether the sums at idle and at speed are lean, or rich; None where not read."""
    side = "low" if is_rich else "high"
    at_idle, at_speed = (
        None if (found := side_missed(row, name)) is None else found == side
        for name in ("idle_sum_percent", "fast_sum_percent")
    )
    return at_idle, at_speed
