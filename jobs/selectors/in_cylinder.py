"""Pressures in the cylinders of a visit: measured in turn, before the repair and after it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from jobs.core.balances import Balance, balance_of
from jobs.core.in_cylinder import (
    FAULTS,
    CylinderMeasured,
    InTurn,
    InTurnLine,
    in_turn_lines,
    leak_order,
)
from jobs.core.plan import NOT_MEASURED, InCylinder
from jobs.models import Visit, VisitCapture
from jobs.selectors.captures import CaptureRow, capture_rows
from jobs.selectors.decision import run_to_decide
from traces.core.pressure_compared import beside_known_good, shares_in_turn
from traces.core.report import Call, Estimate, Interval, PressureFigures, verdict_sentence
from traces.models import ONE_CYLINDER, KnownGood, Run
from traces.selectors.pressure_page import Earlier

_SURELY_LOW = 0.87
_CAM_DEG = 4.0


@dataclass(frozen=True, slots=True)
class CylinderRow:
    """One cylinder as the table shows it.

    Parameters
    ----------
    row
        Its capture.
    measured
        What that says.
    order, is_order_sure
        Its place by loss, 1 loses most, and whether the next one surely loses less; None where its
        loss does not show.
    """

    row: CaptureRow
    measured: CylinderMeasured
    order: int | None
    is_order_sure: bool


@dataclass(frozen=True, slots=True)
class CylindersInTurn:
    """What the pressures in a visit's cylinders say together.

    Parameters
    ----------
    state
        Whether they were measured cranking or running.
    cylinders
        By number.
    lines
        What they say, what is to be minded first in front.
    others
        Captures of the other state, which do not compare.
    is_after_repair
        Whether they were made after the repair.
    """

    state: str
    cylinders: tuple[CylinderRow, ...]
    lines: tuple[InTurnLine, ...]
    others: tuple[CaptureRow, ...]
    is_after_repair: bool

    def named_as(self, kind: InTurn) -> tuple[int, ...]:
        """Return the cylinders of one kind of line."""
        return tuple(c for line in self.lines if line.kind is kind for c in line.cylinders)

    @property
    def is_doubted(self) -> bool:
        """Whether captures contradict each other or the crank, or do not compare."""
        doubts = {InTurn.DISAGREE, InTurn.CONTRADICTION, InTurn.CONDITIONS}
        return any(line.kind in doubts for line in self.lines)

    @property
    def low(self) -> tuple[int, ...]:
        """Cylinders that a verdict on compression may name."""
        return tuple(sorted({*self.named_as(InTurn.LEAK), *self.named_as(InTurn.LOW)}))

    @property
    def faults(self) -> tuple[InTurnLine, ...]:
        """Lines about something that no sound engine shows."""
        return tuple(line for line in self.lines if line.kind in FAULTS)

    @property
    def reason(self) -> str:
        """What a verdict that rests on it may give as its reason."""
        return " ".join(line.words for line in self.faults)


def cylinders_in_turn(
    visit: Visit, rows: Sequence[CaptureRow] | None = None, *, after_repair: bool = False
) -> CylindersInTurn | None:
    """Return what a visit's pressures say together; None where none was measured.

    The newest capture of a cylinder counts, of the state (cranked or idling) that most cylinders
    were measured in.
    """
    known = capture_rows(visit, until=visit.closed_at) if rows is None else rows
    purpose = VisitCapture.purpose_for("pressure", is_after=after_repair)
    measured = [
        (row, figures)
        for row in known
        if row.tie.purpose == purpose
        and not row.tie.is_aside
        and row.same_as is None
        and (figures := figures_of(row.run)) is not None
        and figures.cylinder is not None
    ]
    if not measured:
        return None
    states = [figures.state for _row, figures in measured]
    state = max(
        dict.fromkeys(reversed(states)),
        key=lambda s: len({f.cylinder for _r, f in measured if f.state == s}),
    )
    same = [(row, figures) for row, figures in measured if figures.state == state]
    newest: dict[int, tuple[CaptureRow, PressureFigures]] = {}
    for row, figures in same:
        newest[figures.cylinder or 0] = (row, figures)
    shares = _shares(visit, {c: f for c, (_row, f) in newest.items()})
    found = [
        _measured(row, figures, shares.get(cylinder), [f for _r, f in same])
        for cylinder, (row, figures) in sorted(newest.items())
    ]
    order = {cylinder: (i + 1, sure) for i, (cylinder, sure) in enumerate(leak_order(found))}
    engine = visit.vehicle.engine
    before = cylinders_in_turn(visit, known) if after_repair else None
    was = [one.measured for one in before.cylinders] if before and before.state == state else []
    return CylindersInTurn(
        state=state,
        cylinders=tuple(
            CylinderRow(
                row=newest[one.cylinder][0],
                measured=one,
                order=order[one.cylinder][0] if one.cylinder in order else None,
                is_order_sure=order.get(one.cylinder, (0, False))[1],
            )
            for one in found
        ),
        lines=in_turn_lines(
            found,
            engine.cylinders if engine else 0,
            _cranking(visit, known, after_repair=after_repair),
            was,
        ),
        others=tuple(row for row, figures in measured if figures.state != state),
        is_after_repair=after_repair,
    )


def figures_of(run: Run | None) -> PressureFigures | None:
    """Return the figures of a run of one cylinder's pressure; None where it has none."""
    report = run.report if run else None
    if report is None or report.verdict == "not judged":
        return None
    return report.parts.pressure


def _shares(visit: Visit, figures: Mapping[int, PressureFigures]) -> dict[int, Estimate]:
    """Return each cylinder's peak over that of the good ones; nothing of a single one."""
    if len(figures) < 2:
        return {}
    shop = visit.shop
    found = {}
    for i, share in enumerate(shares_in_turn(list(figures.values()))):
        call: Call = "watch" if share.share < shop.watch_below else "sound"
        if share.share < shop.suspect_below:
            call = "suspect" if share.high < _SURELY_LOW else "watch"
        found[share.cylinder] = Estimate(
            i + 1, share.cylinder, share.share, share.low, share.high, call
        )
    return found


def _measured(
    row: CaptureRow,
    figures: PressureFigures,
    share: Estimate | None,
    all_of_state: Sequence[PressureFigures],
) -> CylinderMeasured:
    codes = {f.code for f in row.report.findings} if row.report else set()
    beside = _known_good(row.run, figures)
    return CylinderMeasured(
        cylinder=figures.cylinder or 0,
        peak_kpa=figures.peak_kpa.value,
        rpm=figures.rpm,
        loss_per_s=figures.loss_per_s,
        share=share,
        is_leaking="leak" in codes,
        comes_and_goes="towers-unalike" in codes,
        held_kpa=figures.back_pressure_kpa,
        back_kpa=figures.back_pressure_kpa if "back-pressure" in codes else None,
        intake_cam_deg=_told_apart(beside[0]),
        exhaust_cam_deg=_told_apart(beside[1]),
        other_peaks_kpa=tuple(
            one.peak_kpa.value
            for one in all_of_state
            if one is not figures and one.cylinder == figures.cylinder
        ),
    )


def _known_good(
    run: Run | None, figures: PressureFigures
) -> tuple[Interval | None, Interval | None]:
    """Return how both cams stand beside the newest known-good capture of that engine."""
    engine = run.setup.engine_id if run else None
    if run is None or engine is None:
        return None, None
    kept = (
        KnownGood.objects.filter(shop_id=run.capture.shop_id, engine_id=engine, retired_at=None)
        .filter(run__in=Run.objects.filter(ONE_CYLINDER))
        .exclude(run__capture_id=run.capture_id)
        .select_related("run")
        .order_by("-pk")
    )
    for entry in kept[:4]:
        good = figures_of(entry.run)
        beside = beside_known_good(figures, good, "") if good is not None else None
        if beside is not None:
            return beside.intake_cam_deg, beside.exhaust_cam_deg
    return None, None


def _told_apart(moved: Interval | None) -> Interval | None:
    if moved is None or abs(moved.value) < _CAM_DEG or moved.low <= 0 <= moved.high:
        return None
    return moved


def _cranking(visit: Visit, rows: Sequence[CaptureRow], *, after_repair: bool) -> Balance | None:
    if after_repair:
        made = VisitCapture.Purpose.VERIFICATION
        judged = [r for r in rows if r.tie.purpose == made and r.report and not r.tie.is_aside]
        return balance_of(judged[-1].report) if judged and judged[-1].report else None
    run = run_to_decide(visit, rows)
    report = run.report if run else None
    return balance_of(report) if report is not None else None


def earlier_of(run: Run) -> tuple[Earlier, ...]:
    """Return other captures of the same cylinder of the same vehicle, those of this job first."""
    tie = VisitCapture.objects.filter(capture=run.capture_id).select_related("visit").first()
    figures = figures_of(run)
    if tie is None or figures is None or figures.cylinder is None:
        return ()
    others = (
        VisitCapture.objects.filter(
            visit__vehicle_id=tie.visit.vehicle_id,
            purpose__in=VisitCapture.IN_CYLINDER,
            aside_why="",
        )
        .exclude(pk=tie.pk)
        .select_related("capture", "visit")
        .order_by("-pk")
    )
    found = []
    for other in others:
        newest = other.capture.runs.filter(ONE_CYLINDER).order_by("-pk").first()
        there = figures_of(newest)
        if newest is None or there is None or there.cylinder != figures.cylinder:
            continue
        is_other_side = other.is_after_repair != tie.is_after_repair
        is_own = other.visit_id == tie.visit_id
        found.append(((not is_own, not is_other_side), _called(other, tie), newest))
    found.sort(key=lambda one: one[0])
    return tuple(Earlier(newest, name) for _turn, name, newest in found)


def _called(other: VisitCapture, tie: VisitCapture) -> str:
    if other.visit_id == tie.visit_id and other.is_after_repair != tie.is_after_repair:
        return _("after the repair") if other.is_after_repair else _("before the repair")
    return str(other.capture)


def measured_done(found: CylindersInTurn | None) -> tuple[str, ...]:
    """Return what was measured, a sentence a cylinder, for a work order."""
    if found is None:
        return ()
    return tuple(
        _("Pressure in the cylinder recorded. %(said)s.")
        % {"said": verdict_sentence(one.row.report)}
        for one in found.cylinders
        if one.row.report is not None
    )


def measured_words(found: CylindersInTurn | None) -> str:
    """Return what the pressures say together, for a work order."""
    if found is None:
        return ""
    return " ".join(f"{line.words} {line.remedy}".strip() for line in found.lines)


def measured_for_customer(visit: Visit) -> str:
    """Return what the pressures showed before the repair and after it, for the customer.

    Nothing that captures contradict, a cranking test included, or that was measured at speeds too
    unlike to compare.
    """
    rows = capture_rows(visit, until=visit.closed_at)
    before = cylinders_in_turn(visit, rows)
    after = cylinders_in_turn(visit, rows, after_repair=True)
    said = []
    for found in (before, after):
        if found is None or found.is_doubted:
            continue
        lead = (
            _("Pressure in the cylinder, after the repair:")
            if found.is_after_repair
            else _("Pressure in the cylinder:")
        )
        words = [line.words for line in found.faults]
        words += [line.words for line in found.lines if line.kind is InTurn.CLEARED]
        if words:
            said.append(f"{lead} {' '.join(words)}")
    return " ".join(said)


def in_cylinder_evidence(found: CylindersInTurn | None) -> InCylinder:
    """Return pressures as the plan takes them; nothing where they are doubted."""
    if found is None or found.is_doubted:
        return NOT_MEASURED
    return InCylinder(
        leaking=frozenset(found.named_as(InTurn.LEAK)),
        filling_less=frozenset(found.named_as(InTurn.LOW)),
        comes_and_goes=frozenset(found.named_as(InTurn.COMES_AND_GOES)),
        is_exhaust_blocked=bool(found.named_as(InTurn.EXHAUST)),
        is_cam_off=bool(found.named_as(InTurn.CAM)),
        # a crank moves too little gas to show what an exhaust holds back
        is_exhaust_free=found.state == "running"
        and all(
            one.measured.held_kpa is not None and one.measured.back_kpa is None
            for one in found.cylinders
        ),
    )


def in_turn_json(found: CylindersInTurn | None) -> dict[str, Any] | None:
    """Return the comparison as plain JSON values; None for none."""
    if found is None:
        return None
    return {
        "state": found.state,
        "says": [
            {
                "kind": line.kind.value,
                "cylinders": list(line.cylinders),
                "words": line.words,
                "remedy": line.remedy,
            }
            for line in found.lines
        ],
        "cylinders": [
            {
                "cylinder": one.measured.cylinder,
                "capture": one.row.tie.capture_id,
                "run": one.row.run.pk if one.row.run else None,
                "peak_kpa": one.measured.peak_kpa,
                "rpm": one.measured.rpm,
                "share": _share_json(one.measured.share),
                "loss_per_s": _interval_json(one.measured.loss_per_s),
                "loss_rank": one.order,
                "is_rank_sure": one.is_order_sure,
                "back_pressure_kpa": _interval_json(one.measured.held_kpa),
            }
            for one in found.cylinders
        ],
    }


def _share_json(share: Estimate | None) -> dict[str, Any] | None:
    if share is None:
        return None
    return {
        "relative": round(share.relative, 4),
        "low": round(share.low, 4),
        "high": round(share.high, 4),
        "call": share.call,
    }


def _interval_json(figure: Interval | None) -> dict[str, float] | None:
    return None if figure is None else figure.to_json()
