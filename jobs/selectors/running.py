"""Running balance of a visit beside its cranking balance."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext

from jobs.core.plan import NOT_RECORDED, IdleBalance
from jobs.core.running_beside import (
    Balance,
    Beside,
    BesideLine,
    after_for_customer,
    before_for_customer,
    beside_lines,
)
from jobs.models import Visit, VisitCapture
from jobs.selectors.captures import CaptureRow, capture_rows, fuel_of, latest_judgement
from jobs.selectors.decision import run_to_decide
from traces.core.report import Estimate, Report, is_uncertain, verdict_sentence
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
    cranking
        The run of the cranked engine it stands beside; None where none is judged.
    lines
        What both say, first what is to be done first.
    cylinders
        Cylinder by cylinder; empty where numbers are not known.
    """

    row: CaptureRow
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
    def is_judged_even(self) -> bool:
        """Whether no cylinder adds less at idle."""
        return self.row.report is not None and self.row.report.verdict == "even"

    def shares(self, cylinders: Collection[int]) -> dict[int, float]:
        """Return what these cylinders add over the good ones, as far as numbers are known."""
        return {
            line.cylinder: line.running.relative
            for line in self.cylinders
            if line.cylinder in cylinders and line.running is not None
        }

    @property
    def is_even(self) -> bool:
        """Whether no cylinder is weak in either."""
        return any(line.kind is Beside.EVEN for line in self.lines)

    @property
    def weak(self) -> tuple[int, ...]:
        """Cylinders that add less, where it is settled which."""
        report = self.row.report
        found = _balance(report) if report else None
        return tuple(sorted(found.weak)) if found and found.is_settled else ()


def running_beside(
    visit: Visit, rows: Sequence[CaptureRow] | None = None, *, after_repair: bool = False
) -> RunningBeside | None:
    """Return the running balance of a visit beside its cranking balance; None without one.

    Of several captures of the idling engine the newest judged one counts; where they name other
    cylinders none does.
    """
    purpose = VisitCapture.purpose_for(is_running=True, is_after=after_repair)
    judged = [
        row
        for row in (capture_rows(visit, until=visit.closed_at) if rows is None else rows)
        if row.tie.purpose == purpose
        and not row.tie.is_aside
        and row.same_as is None
        and row.report is not None
        and row.report.verdict != "not judged"
    ]
    if not judged:
        return None
    shown = judged[-1]
    cranking = _cranking_run(visit, after_repair=after_repair)
    report = shown.report
    of_crank = cranking.report if cranking else None
    assert report is not None  # noqa: S101 - only judged rows are left
    return RunningBeside(
        row=shown,
        cranking=cranking,
        lines=beside_lines(
            _balance(of_crank) if of_crank else None,
            _balance(report),
            is_diesel=fuel_of(visit, cranking or shown.run) == "diesel",
            disagree=len({frozenset(r.report.candidates) for r in judged if r.report}) > 1,
        ),
        cylinders=_side_lines(of_crank, report),
    )


def idling_done(found: RunningBeside | None) -> str:
    """Return what an idling engine showed, a sentence for a work order; empty without one."""
    report = found.row.report if found else None
    if report is None:
        return ""
    return gettext("Engine idling recorded: %(said)s.") % {"said": verdict_sentence(report)}


def idling_words(found: RunningBeside | None) -> str:
    """Return what an idling engine says beside the cranked one, for a work order."""
    if found is None:
        return ""
    return " ".join(f"{line.words} {line.remedy}" for line in found.lines)


def idling_for_customer(visit: Visit) -> str:
    """Return what an idling engine showed before the repair and after it, for the customer."""
    before, after = running_beside(visit), running_beside(visit, after_repair=True)
    said = []
    if before is not None and before.weak:
        said.append(before_for_customer(before.shares(before.weak)))
    if after is not None:
        again = after.shares(after.weak or (before.weak if before else ()))
        said.append(after_for_customer(again, is_even=after.is_judged_even))
    return " ".join(sentence for sentence in said if sentence)


def _cranking_run(visit: Visit, *, after_repair: bool) -> Run | None:
    """Return the run of the cranked engine that stands: the signed one, else the one to sign."""
    if after_repair:
        made = VisitCapture.Purpose.VERIFICATION
        proofs = [r for r in capture_rows(visit) if r.tie.purpose == made and not r.tie.is_aside]
        return next((r.run for r in reversed(proofs) if _is_judged(r.run)), None)
    signed = latest_judgement(visit)
    run = signed.run if signed else None
    found = run if run is not None else run_to_decide(visit)
    return found if _is_judged(found) else None


def _is_judged(run: Run | None) -> bool:
    report = run.report if run else None
    return report is not None and report.verdict != "not judged"


def _balance(report: Report) -> Balance:
    sets = report.candidates
    return Balance(
        is_judged=report.verdict != "not judged",
        weak=frozenset(c for one in sets for c in one) if len(sets) == 1 else _weak_open(report),
        watch=frozenset(
            e.cylinder for e in report.estimates if e.call == "watch" and e.cylinder is not None
        )
        if report.cylinders_known
        else frozenset(),
        is_settled=report.cylinders_known and len(sets) == 1,
        is_uncertain=is_uncertain(report),
    )


def _weak_open(report: Report) -> frozenset[int]:
    """Return all that may be weak, where it is open which are."""
    return frozenset(c for one in report.candidates for c in one)


def _side_lines(cranking: Report | None, running: Report) -> tuple[SideLine, ...]:
    cranked, idling = _by_cylinder(cranking), _by_cylinder(running)
    return tuple(
        SideLine(cylinder, cranked.get(cylinder), idling.get(cylinder))
        for cylinder in sorted({*cranked, *idling})
    )


def _by_cylinder(report: Report | None) -> Mapping[int, Estimate]:
    if report is None or not report.cylinders_known:
        return {}
    return {e.cylinder: e for e in report.estimates if e.cylinder is not None}


def idle_balance(found: RunningBeside | None) -> IdleBalance:
    """Return a running balance as the plan takes it; nothing where it names nobody."""
    if found is None:
        return NOT_RECORDED
    return IdleBalance(
        burns_badly=frozenset(found.named_as(Beside.BURN)),
        weak_in_both=frozenset(found.named_as(Beside.MECHANICAL)),
        contradicted=frozenset(found.named_as(Beside.CONTRADICTION)),
        is_even=found.is_even,
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
