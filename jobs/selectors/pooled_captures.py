"""A visit's captures side by side: which are pooled, how well they repeat, what they say."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.utils.text import Truncator
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.models import Vehicle, Visit, VisitCapture
from jobs.selectors.captures import CaptureRow, capture_rows
from traces.core.findings import place_letter
from traces.core.humps import Limits
from traces.core.pooling import (
    CaptureConditions,
    PooledPlace,
    PoolingText,
    Together,
    is_poolable,
    ordinal,
    pool,
    pool_banks,
    pooled_bank_line,
    said,
    take_of,
)
from traces.core.report import BankDifference, told_calls
from traces.models import CaptureSetup, Run

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

_ROLES = {
    "pooled": _("pooled"),
    "turned": _("pooled, laid over the others"),
    "fits": _("in keeping, not pooled"),
    "contradicts": _("contradicts"),
}
_BY_ITSELF = _("taken by itself")
_SAYS_NOTHING_FROM = 1.0
"""Width of an interval of relative compression that holds every state of a cylinder."""
_TITLE_LENGTH = 60


@dataclass(frozen=True, slots=True)
class PooledCapture:
    """One capture beside the others.

    Parameters
    ----------
    number, ordinal
        How page and sentences count it.
    row
        The capture with its newest run.
    conditions
        How it was made, as far as it was noted.
    role
        What became of it, in a few words.
    is_pooled
        Whether its figures are in the pooled ones, or are the only ones that count.
    """

    number: int
    ordinal: str
    row: CaptureRow
    conditions: CaptureConditions
    role: str
    is_pooled: bool


@dataclass(frozen=True, slots=True)
class TogetherLine:
    """One cylinder: its figure in each pooled capture, and the pooled one."""

    name: str
    figures: tuple[tuple[str, float, tuple[float, float]], ...]
    """(ordinal of the capture, figure, its own 95 % interval)."""
    place: PooledPlace
    call: str
    """As people are told it."""

    @property
    def repeat_points(self) -> float:
        """Standard deviation between the captures, in points of relative compression."""
        return 100 * self.place.repeat_sd

    @property
    def has_interval(self) -> bool:
        """Whether the pooled interval says something; else the captures just do not agree."""
        return not self.place.differs or self.place.high - self.place.low < _SAYS_NOTHING_FROM


@dataclass(frozen=True, slots=True)
class CapturesTogether:
    """Captures of one visit in one state of the engine, compared and pooled.

    Parameters
    ----------
    purpose
        Before or after the repair.
    sides
        Every capture of that state in the order they came.
    lines
        One for each cylinder, or place of the firing sequence where numbers are open.
    pooled
        The figures.
    words
        The same in sentences.
    banks
        Bank against bank by all of them, a sentence; empty where they do not compare banks.
    bank_difference
        The same as figures.
    """

    purpose: str
    sides: tuple[PooledCapture, ...]
    lines: tuple[TogetherLine, ...]
    pooled: Together
    words: PoolingText
    banks: str = ""
    bank_difference: BankDifference | None = None

    @property
    def pooled_sides(self) -> tuple[PooledCapture, ...]:
        """The captures whose figures are pooled."""
        return tuple(s for s in self.sides if s.is_pooled)

    @property
    def count(self) -> int:
        """How many captures are pooled; one is taken by itself."""
        return len(self.pooled.keys)

    @property
    def is_pool(self) -> bool:
        """Whether figures of several captures were put together."""
        return self.count > 1

    @property
    def single(self) -> str:
        """What people call the only capture that counts; empty where several are pooled."""
        return "" if self.is_pool else _title(self.pooled_sides[0].row)

    @property
    def after_repair(self) -> bool:
        """Whether these are the captures after the repair."""
        return self.purpose == VisitCapture.Purpose.VERIFICATION

    def has(self, capture_id: int) -> bool:
        """Return whether a capture's figures are among the pooled."""
        return capture_id in self.pooled.keys


def captures_together(
    visit: Visit,
    purpose: str = VisitCapture.Purpose.DIAGNOSIS,
    *,
    signed: Run | None = None,
    until: datetime | None = None,
) -> CapturesTogether | None:
    """Return a visit's captures of one state together; None where there is nothing to compare.

    Parameters
    ----------
    signed
        A run that counts for its capture, whatever was analysed there since.
    until
        Runs that were done later do not count.
    """
    return together_of(visit, capture_rows(visit, signed=signed, until=until), purpose)


def together_of(visit: Visit, rows: Sequence[CaptureRow], purpose: str) -> CapturesTogether | None:
    """Return the captures among `rows` that were made in one state of the engine, together.

    Newest runs count; captures set aside, not judged, or set up with another firing order than
    most of them stay out and say why.
    """
    # No starter current was read where a drive motor cranks.
    if visit.vehicle.drive == Vehicle.Drive.TRACTION or purpose not in VisitCapture.CRANKED:
        return None
    own = [row for row in rows if row.tie.purpose == purpose]
    judged = [row for row in own if _why_not(row) is None]
    order = _usual_order(judged)
    used = [row for row in judged if _order_of(row) == order]
    if len(used) < 2:
        return None
    takes = [
        take_of(row.tie.capture_id, row.report, row.run.setup.analysis)
        for row in used
        if row.run and row.report
    ]
    newest = used[-1].run
    assert newest is not None  # noqa: S101 - `_why_not` let only rows with a run through
    settings = newest.setup.analysis
    pooled = pool(takes, Limits(settings.suspect_below, settings.watch_below))
    if pooled is None:
        return None
    roles = {a.key: _ROLES[a.role] for a in pooled.aligned}
    if len(pooled.keys) == 1:
        roles[pooled.keys[0]] = _BY_ITSELF
    sides = tuple(
        PooledCapture(
            number=i + 1,
            ordinal=ordinal(i),
            row=row,
            conditions=conditions_of(row.run.setup) if row.run else CaptureConditions(),
            role=_role(row, roles, order),
            is_pooled=row.tie.capture_id in pooled.keys,
        )
        for i, row in enumerate(own)
    )
    by_key = {s.row.tie.capture_id: s for s in sides}
    reports = [s.row.report for s in sides if s.is_pooled and s.row.report]
    return CapturesTogether(
        purpose=purpose,
        sides=sides,
        lines=_lines(pooled, [by_key[k].ordinal for k in pooled.keys]),
        pooled=pooled,
        words=said(
            pooled,
            list(by_key),
            {k: s.conditions for k, s in by_key.items()},
            {k: _title(s.row) for k, s in by_key.items()},
        ),
        banks=pooled_bank_line(reports),
        bank_difference=pool_banks(reports),
    )


def conditions_of(setup: CaptureSetup) -> CaptureConditions:
    """Return how a capture was made, in the words of its set-up; empty where not noted."""
    return CaptureConditions(
        temperature=setup.get_temperature_display() if setup.temperature else "",
        throttle=setup.get_throttle_display() if setup.throttle else "",
    )


def together_json(found: CapturesTogether | None) -> dict[str, Any] | None:
    """Return captures together as plain JSON values; None for none."""
    if found is None:
        return None
    return {
        "captures": [
            {
                "capture": side.row.tie.capture_id,
                "run": side.row.run.pk if side.row.run else None,
                "pooled": side.is_pooled and found.is_pool,
                "role": side.role,
                "temperature": side.conditions.temperature,
                "throttle": side.conditions.throttle,
            }
            for side in found.sides
        ],
        "cylinders_known": found.pooled.cylinders_known,
        "cylinders": [
            {
                "place": line.place.place,
                "cylinder": line.place.cylinder,
                "figures": list(line.place.figures),
                "intervals": [list(pair) for pair in line.place.intervals],
                "relative": round(line.place.relative, 4),
                "low": round(line.place.low, 4),
                "high": round(line.place.high, 4),
                "call": line.place.call,
                "repeat_sd": round(line.place.repeat_sd, 4) if found.is_pool else None,
                "p": float(f"{line.place.p:.3g}"),
                "differs": line.place.differs,
            }
            for line in found.lines
        ],
        "candidates": [list(c) for c in found.pooled.candidates],
        "bank_difference": found.bank_difference and found.bank_difference.to_json(),
        "repeat_sd": round(found.pooled.repeat_sd, 4) if found.is_pool else None,
        "cycles": found.pooled.cycles,
        "agree": found.pooled.agrees,
        "headline": found.words.headline,
        "verdict": found.words.verdict,
        "disagreements": list(found.words.disagreements),
        "asides": list(found.words.asides),
    }


def _why_not(row: CaptureRow) -> str | None:
    """Say why a capture has no part in it; None where it may have one."""
    if row.tie.is_aside:
        return gettext("set aside: %(aside_why)s") % {"aside_why": row.tie.aside_why}
    if row.same_as is not None:
        return row.detail
    if row.report is None or not is_poolable(row.report):
        return row.words
    if row.report.open_cylinder is not None:
        return gettext("not pooled: the plug of cylinder %(open_cylinder)s was out") % {
            "open_cylinder": row.report.open_cylinder
        }
    return None


def _order_of(row: CaptureRow) -> tuple[str, tuple[float, ...]]:
    assert row.run is not None  # noqa: S101 - asked of judged rows only
    order = row.run.setup.analysis.firing_order
    return str(order), order.tdc_angles_deg


def _usual_order(rows: Sequence[CaptureRow]) -> tuple[str, tuple[float, ...]] | None:
    """Return the firing order most captures were set up with, the newest one's among equals."""
    orders = [_order_of(row) for row in reversed(rows)]
    return max(dict.fromkeys(orders), key=orders.count, default=None)


def _role(row: CaptureRow, roles: "Mapping[int, StrOrPromise]", order: object) -> str:
    why_not = _why_not(row)
    if why_not is not None:
        return why_not
    if _order_of(row) != order:
        return gettext("set up with another firing order")
    return str(roles[row.tie.capture_id])


def _title(row: CaptureRow) -> str:
    return Truncator(str(row.tie.capture)).chars(_TITLE_LENGTH)


def _lines(pooled: Together, ordinals: Sequence[str]) -> tuple[TogetherLine, ...]:
    return tuple(
        TogetherLine(
            name=place_letter(place.place) if place.cylinder is None else str(place.cylinder),
            figures=tuple(zip(ordinals, place.figures, place.intervals, strict=True)),
            place=place,
            call=call,
        )
        for place, call in zip(pooled.places, told_calls(pooled.places), strict=True)
    )
