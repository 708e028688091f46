"""Running balance of a visit beside its cranking balance."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from types import EllipsisType
from typing import Any

from django.utils.translation import gettext

from jobs.core.balances import (
    Balance,
    Disagreement,
    agreed_sets,
    balance_of,
    does_rest_on_flywheel,
    numbered,
    signed_balance,
)
from jobs.core.idle_for_customer import after_for_customer, before_for_customer
from jobs.core.plan import NOT_RECORDED, IdleBalance
from jobs.core.running_beside import (
    Beside,
    BesideLine,
    beside_lines,
    flywheel_doubt,
    lines_after_repair,
)
from jobs.models import Judgement, Vehicle, Visit, VisitCapture
from jobs.selectors.captures import CaptureRow, capture_rows, fuel_of, latest_judgement
from jobs.selectors.decision import run_to_decide
from traces.core.report import Estimate, Report, verdict_sentence
from traces.models import Run


@dataclass(frozen=True, slots=True)
class SideLine:
    """One cylinder in both tests; None where one does not say."""

    cylinder: int
    cranking: Estimate | None
    running: Estimate | None


@dataclass(frozen=True, slots=True)
class RunningBeside:
    """What the idling engine says beside the cranked one.

    Parameters
    ----------
    row
        The capture of the idling engine that counts.
    idling
        What all captures of the idling engine say together.
    disagreement
        How they differ; then none counts.
    cranking
        The run of the cranked engine it stands beside; None where none is judged.
    lines
        What both say, first what is to be done first.
    cylinders
        Cylinder by cylinder; empty where numbers are not known or no capture counts.
    """

    row: CaptureRow
    idling: Balance
    disagreement: Disagreement | None
    cranking: Run | None
    lines: tuple[BesideLine, ...]
    cylinders: tuple[SideLine, ...]

    def named_as(self, kind: Beside) -> tuple[int, ...]:
        """Return the cylinders of one kind of reading."""
        return tuple(c for line in self.lines if line.kind is kind for c in line.cylinders)

    @property
    def burning_badly(self) -> tuple[int, ...]:
        """Cylinders that compress and do not burn as they should."""
        return self.named_as(Beside.BURN)

    @property
    def rests_on_flywheel(self) -> bool:
        """Whether another kind of flywheel would make other cylinders weak."""
        return self.idling.rests_on_flywheel

    @property
    def counts(self) -> bool:
        """Whether the captures of the idling engine do not contradict each other."""
        return self.disagreement is None

    @property
    def is_judged_even(self) -> bool:
        """Whether no cylinder adds less at idle."""
        return self.counts and not self.idling.weak

    @property
    def is_alike(self) -> bool:
        """Whether all cylinders are clearly good at idle, none between weak and good."""
        idling = self.idling
        is_clear = idling.is_settled and not (idling.watch or idling.is_uncertain)
        return self.is_judged_even and is_clear

    def shares(self, cylinders: Collection[int]) -> dict[int, float]:
        """Return what these cylinders add over the good ones, as far as numbers are known."""
        return {
            line.cylinder: line.running.relative
            for line in self.cylinders
            if line.cylinder in cylinders and line.running is not None
        }

    @property
    def missed(self) -> dict[int, float]:
        """The share of firings that gave next to nothing, of cylinders that come and go."""
        report = self.row.report
        figures = report.parts.running if report else None
        if report is None or figures is None or not self.counts:
            return {}
        return {
            e.cylinder: figures.missed[e.position - 1]
            for e in numbered(report)
            if e.cylinder is not None
            and e.position <= len(figures.missed)
            and figures.missed[e.position - 1]
        }

    @property
    def is_even(self) -> bool:
        """Whether surely no cylinder is weak in either."""
        return any(line.kind is Beside.EVEN and not line.is_doubtful for line in self.lines)

    @property
    def weak(self) -> tuple[int, ...]:
        """Cylinders that add less, where it is settled which."""
        is_settled = self.counts and self.idling.is_settled
        return tuple(sorted(self.idling.weak)) if is_settled else ()


def running_beside(
    visit: Visit,
    rows: Sequence[CaptureRow] | None = None,
    *,
    after_repair: bool = False,
    signed: Judgement | EllipsisType | None = ...,
) -> RunningBeside | None:
    """Return the running balance of a visit beside its cranking balance; None without one.

    Of several captures of the idling engine the newest counts that leaves no more open than all
    do together; where no set of cylinders fits them all, none does.

    Parameters
    ----------
    rows
        The visit's captures, where they were read already.
    signed
        The verdict that stands, whose cylinders count before those of the cranking test; looked up
        where it is not given.
    """
    known = capture_rows(visit, until=visit.closed_at) if rows is None else rows
    idle = _idle_of(known, is_after=after_repair)
    if idle is None:
        return None
    shown, idling, disagreement = idle
    verdict = None if after_repair else latest_judgement(visit) if signed is ... else signed
    cranking = _proof_run(known) if after_repair else _cranking_run(visit, known, verdict)
    of_crank = cranking.report if cranking else None
    compression = balance_of(of_crank) if of_crank else None
    if verdict is not None:
        compression = signed_balance(
            compression or Balance(is_judged=False),
            verdict.mechanical,
            verdict.cylinders,
            of_crank.candidates if of_crank else (),
        )
    if after_repair and compression is None:
        before = _idle_of(known, is_after=False)
        was = before[1] if before and before[2] is None else None
        lines = lines_after_repair(was, idling, disagree=disagreement)
    else:
        lines = beside_lines(
            compression,
            idling,
            is_diesel=fuel_of(visit, cranking or shown.run) == "diesel",
            is_traction=visit.vehicle.drive == Vehicle.Drive.TRACTION,
            disagree=disagreement,
        )
    report = shown.report
    assert report is not None  # noqa: S101 - only judged rows are left
    return RunningBeside(
        row=shown,
        idling=idling,
        disagreement=disagreement,
        cranking=cranking,
        lines=lines,
        cylinders=_side_lines(of_crank, report) if disagreement is None else (),
    )


def _idle_of(
    rows: Sequence[CaptureRow], *, is_after: bool
) -> tuple[CaptureRow, Balance, Disagreement | None] | None:
    """Return what the captures of an idling engine say together; None where none is judged."""
    purpose = VisitCapture.purpose_for("running", is_after=is_after)
    judged = [
        (row, row.report)
        for row in rows
        if row.tie.purpose == purpose
        and not row.tie.is_aside
        and row.same_as is None
        and row.report is not None
        and row.report.verdict != "not judged"
    ]
    if not judged:
        return None
    common, disagreement = agreed_sets([report.candidates for _row, report in judged])
    settling = [
        (row, report)
        for row, report in judged
        if frozenset(frozenset(one) for one in report.candidates) == common
    ]
    shown, report = (settling or judged)[-1]
    balance = replace(
        balance_of(report),
        rests_on_flywheel=any(does_rest_on_flywheel(each) for _row, each in judged),
    )
    if disagreement is None and report.verdict == "uneven":
        weak = frozenset(c for one in common for c in one)
        is_settled = balance.is_settled or len(common) == 1
        balance = replace(balance, weak=weak, is_settled=is_settled)
    return shown, balance, disagreement


def idling_done(found: RunningBeside | None) -> str:
    """Return what an idling engine showed, a sentence for a work order; empty without one."""
    report = found.row.report if found and found.counts else None
    if found is None or report is None:
        return ""
    said = gettext("Engine idling recorded: %(said)s.") % {"said": verdict_sentence(report)}
    return f"{said} {flywheel_doubt()}" if found.rests_on_flywheel else said


def idling_words(found: RunningBeside | None) -> str:
    """Return what an idling engine says beside the cranked one, for a work order."""
    if found is None:
        return ""
    return " ".join(f"{line.words} {line.remedy}".strip() for line in found.lines)


def idling_for_customer(visit: Visit) -> str:
    """Return what an idling engine showed before the repair and after it, for the customer.

    Nothing that captures contradict, and nothing that rests on which flywheel the engine has.
    """
    rows = capture_rows(visit, until=visit.closed_at)
    before, after = (
        found if found is not None and found.counts and not found.rests_on_flywheel else None
        for found in (
            running_beside(visit, rows),
            running_beside(visit, rows, after_repair=True),
        )
    )
    said = []
    if before is not None and before.weak:
        said.append(before_for_customer(before.shares(before.weak), before.missed))
    if after is not None:
        was = before.weak if before else ()
        told = {*after.weak, *after.idling.watch} or was
        said.append(
            after_for_customer(
                after.shares(told),
                after.missed,
                is_even=after.is_judged_even,
                is_alike=after.is_alike,
            )
        )
    return " ".join(sentence for sentence in said if sentence)


def _proof_run(rows: Sequence[CaptureRow]) -> Run | None:
    """Return the newest judged run of the engine cranked after the repair."""
    made = VisitCapture.Purpose.VERIFICATION
    proofs = [r.run for r in rows if r.tie.purpose == made and not r.tie.is_aside]
    return next((run for run in reversed(proofs) if _is_judged(run)), None)


def _cranking_run(
    visit: Visit, rows: Sequence[CaptureRow], verdict: Judgement | None
) -> Run | None:
    """Return the run of the cranked engine that stands: the signed one, else the one to sign."""
    run = verdict.run if verdict else None
    found = run if run is not None else run_to_decide(visit, rows)
    return found if _is_judged(found) else None


def _is_judged(run: Run | None) -> bool:
    report = run.report if run else None
    return report is not None and report.verdict != "not judged"


def _side_lines(cranking: Report | None, running: Report) -> tuple[SideLine, ...]:
    cranked, idling = _by_cylinder(cranking), _by_cylinder(running)
    return tuple(
        SideLine(cylinder, cranked.get(cylinder), idling.get(cylinder))
        for cylinder in sorted({*cranked, *idling})
    )


def _by_cylinder(report: Report | None) -> Mapping[int, Estimate]:
    if report is None:
        return {}
    return {e.cylinder: e for e in numbered(report) if e.cylinder is not None}


def idle_balance(found: RunningBeside | None) -> IdleBalance:
    """Return a running balance as the plan takes it; nothing where it names nobody."""
    if found is None:
        return NOT_RECORDED
    return IdleBalance(
        burns_badly=frozenset(found.named_as(Beside.BURN)),
        weak_in_both=frozenset(found.named_as(Beside.MECHANICAL)),
        contradicted=frozenset(found.named_as(Beside.CONTRADICTION)),
        is_even=found.is_even,
        rests_on_flywheel=found.rests_on_flywheel,
    )


def beside_json(found: RunningBeside | None) -> dict[str, Any] | None:
    """Return cranking and running balance side by side as plain JSON values; None for none."""
    if found is None:
        return None
    return {
        "capture": found.row.tie.capture_id,
        "run": found.row.run.pk if found.row.run else None,
        "cranking_run": found.cranking.pk if found.cranking else None,
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
                "cylinder": line.cylinder,
                "cranking": _estimate_json(line.cranking),
                "running": _estimate_json(line.running),
            }
            for line in found.cylinders
        ],
    }


def _estimate_json(estimate: Estimate | None) -> dict[str, Any] | None:
    if estimate is None:
        return None
    return {
        "relative": round(estimate.relative, 4),
        "low": round(estimate.low, 4),
        "high": round(estimate.high, 4),
        "call": estimate.call,
    }
