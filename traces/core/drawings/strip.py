"""Cycle by cycle: one small bar for each cylinder in each engine cycle."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shopdiag.people.core.words import gettext as _
from traces.core.findings import place_letter
from traces.core.humps import Limits
from traces.core.report import (
    HIGH,
    HIGH_FROM,
    SHORT,
    Call,
    Estimate,
    Report,
    call_words,
    told_calls,
)

_FEW = 20
"""Up to so many cycles each bar has its figure above it."""

_MOST = 120
_COLUMNS = {True: 10, False: 24}
_CELL = {True: 30.0, False: 12.5}
_LEFT, _RIGHT, _TOP = 36, 4, 18
_NUMBER, _BAR, _GAP = 13, 26, 5
_ROOF = 1.2
_HATCHES: dict[Call, str] = {"suspect": "close", "watch": "wide", "sound": "", "open": ""}


@dataclass(frozen=True, slots=True)
class CycleBar:
    """One cylinder in one cycle, in drawing units; `title` says it in words."""

    x: float
    y: float
    width: float
    height: float
    middle: float
    number: str
    number_y: float
    hatch: str
    title: str


@dataclass(frozen=True, slots=True)
class StripColumn:
    """One engine cycle: its number, and where it was left out the reason."""

    x: float
    width: float
    middle: float
    number: int
    reason: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class CylinderRow:
    """One cylinder: its name, the floor of its bars and its limits."""

    name: str
    text_y: float
    base: float
    whole_y: float
    suspect_y: float


@dataclass(frozen=True, slots=True)
class CycleBlock:
    """Some cycles beside each other; blocks follow each other as room allows.

    `name` tells blocks of one strip apart; gaps stand `gap_height` high about `middle_y`.
    """

    name: str
    width: float
    height: float
    left: float
    right: float
    top: float
    gap_height: float
    middle_y: float
    columns: tuple[StripColumn, ...]
    rows: tuple[CylinderRow, ...]
    bars: tuple[CycleBar, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Strip:
    """The whole strip.

    `numbered` tells that bars carry their figures, `cut` how many cycles fall beyond what is
    drawn; `left_out` lists in words what the gaps are.
    """

    blocks: tuple[CycleBlock, ...]
    numbered: bool
    known: bool
    cut: int
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CycleColumn:
    """One engine cycle of the crank.

    Parameters
    ----------
    number
        From 1 in the crank, used or not.
    values
        By place in the firing sequence; None for a cylinder without a figure, empty where the
        cycle was left out.
    reason, words
        Why it was left out, in one word and in a sentence; empty where it was used.
    """

    number: int
    values: tuple[float | None, ...] = ()
    reason: str = ""
    words: str = ""


def cycle_columns(report: Report) -> tuple[CycleColumn, ...]:
    """Return all engine cycles of a crank with their figures, or why they have none.

    Results from before the cycles were told have those with figures only.
    """
    estimates = report.estimates
    most = max((len(e.per_cycle) for e in estimates), default=0)
    rows = [
        tuple(e.per_cycle[i] if i < len(e.per_cycle) else None for e in estimates)
        for i in range(most)
    ]
    cycles = report.engine_cycles
    if not rows or sum(c.used for c in cycles) != most:
        return tuple(CycleColumn(i + 1, row) for i, row in enumerate(rows))
    figures = iter(rows)
    return tuple(
        CycleColumn(number, next(figures))
        if cycle.reason is None
        else CycleColumn(number, (), str(SHORT.get(cycle.reason, _("left out"))), str(cycle.words))
        for number, cycle in enumerate(cycles, start=1)
    )


def cycle_strip(report: Report, limits: Limits) -> Strip | None:
    """Draw every cylinder in every cycle; None where there are no figures by cycle."""
    columns = cycle_columns(report)
    if not columns:
        return None
    shown = columns[:_MOST]
    numbered = len(shown) <= _FEW
    size = _COLUMNS[numbered]
    parts = [shown[i : i + size] for i in range(0, len(shown), size)]
    return Strip(
        blocks=tuple(_block(report, limits, part, numbered=numbered) for part in parts),
        numbered=numbered,
        known=report.cylinders_known,
        cut=len(columns) - len(shown),
        left_out=tuple(
            _("cycle {number}: {why}").format(number=c.number, why=c.words or c.reason)
            for c in shown
            if c.reason
        ),
    )


def _block(
    report: Report, limits: Limits, part: Sequence[CycleColumn], *, numbered: bool
) -> CycleBlock:
    cell = _CELL[numbered]
    row_height = (_NUMBER if numbered else 0) + _BAR + _GAP
    names = [_name(e, report) for e in report.estimates]
    bases = [_TOP + row_height * (i + 1) - _GAP for i in range(len(names))]
    told = told_calls(report.estimates)
    what = _("cylinder") if report.cylinders_known else _("place")
    columns, bars = [], []
    for i, cycle in enumerate(part):
        x = _LEFT + cell * i
        columns.append(
            StripColumn(
                x=round(x + 1, 2),
                width=cell - 2,
                middle=round(x + cell / 2, 2),
                number=cycle.number,
                reason=cycle.reason,
                title=_("cycle {number} left out: {words}").format(
                    number=cycle.number, words=cycle.words
                )
                if cycle.reason
                else "",
            )
        )
        for name, base, value, call_of_all in zip(
            names, bases, cycle.values, told, strict=bool(cycle.values)
        ):
            if value is None:
                continue
            call = limits.call(value)
            is_high = call_of_all == HIGH and value >= HIGH_FROM
            per_cent = f"{100 * value:.0f}"
            height = round(_BAR * min(max(value, 0.0), _ROOF) / _ROOF, 2)
            bars.append(
                CycleBar(
                    x=round(x + cell * 0.15, 2),
                    y=round(base - height, 2),
                    width=round(cell * 0.7, 2),
                    height=height,
                    middle=round(x + cell / 2, 2),
                    number=per_cent if numbered else "",
                    number_y=base - _BAR - 3,
                    hatch=_HATCHES[call],
                    title=_("{what} {name}, cycle {number}: {per_cent} %, {call}").format(
                        what=what,
                        name=name,
                        number=cycle.number,
                        per_cent=per_cent,
                        call=call_words(HIGH if is_high else call),
                    ),
                )
            )
    right = _LEFT + cell * len(part)
    return CycleBlock(
        name=str(part[0].number),
        width=right + _RIGHT,
        height=bases[-1] + _GAP,
        left=_LEFT,
        right=right,
        top=_TOP,
        gap_height=bases[-1] - _TOP,
        middle_y=(bases[-1] + _TOP) / 2,
        columns=tuple(columns),
        rows=tuple(
            CylinderRow(
                name=name,
                text_y=base - 6,
                base=base,
                whole_y=round(base - _BAR / _ROOF, 2),
                suspect_y=round(base - _BAR * limits.suspect_below / _ROOF, 2),
            )
            for name, base in zip(names, bases, strict=True)
        ),
        bars=tuple(bars),
        words="; ".join(_words(report, limits, part, what)),
    )


def _name(estimate: Estimate, report: Report) -> str:
    return estimate.name if report.cylinders_known else place_letter(estimate.position)


def _words(report: Report, limits: Limits, part: Sequence[CycleColumn], what: str) -> Iterator[str]:
    """Yield what the block shows, for those who do not see it."""
    used = [c for c in part if c.values]
    yield _("Cycles {first} to {last}").format(first=part[0].number, last=part[-1].number)
    told = False
    for i, estimate in enumerate(report.estimates):
        values = [c.values[i] for c in used]
        low = [v for v in values if v is not None and limits.call(v) == "suspect"]
        if low:
            told = True
            yield _("{what} {name} is low in {count} of {all}").format(
                what=what, name=_name(estimate, report), count=len(low), all=len(used)
            )
    if not told:
        yield _("no {what} is low in any").format(what=what)
    for cycle in part:
        if cycle.reason:
            yield _("cycle {number} left out: {words}").format(
                number=cycle.number, words=cycle.words
            )
