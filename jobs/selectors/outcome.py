"""Before and after, and the sheet for the customer."""

from dataclasses import dataclass, replace

from django.utils.translation import gettext, gettext_lazy

from jobs.core.comparison import ComparedCylinder, Span, compared
from jobs.core.customer_words import (
    CrankingTest,
    compression_words,
    measured_elsewhere,
    uneven_but_beyond,
)
from jobs.core.groups import FaultGroup, group_words
from jobs.core.request import is_open
from jobs.models import (
    Complaint,
    Judgement,
    Outcome,
    SwapTest,
    Visit,
    VisitCapture,
    WorkOrder,
)
from jobs.selectors.captures import (
    beside_in_test,
    even_in_test,
    latest_judgement,
    verdict_words,
)
from jobs.selectors.customer_tests import gauge_told, tests_told
from jobs.selectors.found_elsewhere import found_elsewhere, measured_of
from jobs.selectors.in_cylinder import measured_for_customer
from jobs.selectors.repeats import judged_runs, not_repeatable, not_repeated, repeats
from jobs.selectors.running import idling_for_customer
from traces.core.comparison import ComparedCapture, condition_cautions, conditions_beside
from traces.core.report import Estimate, Report, is_high, weaker_bank
from traces.core.starter import StarterPair, starter_pairs
from traces.models import Run

_NOT_KNOWN_RELATIVE = gettext_lazy(
    "The test compares the cylinders with each other. Wear that is the same in all of them "
    "cannot be seen by it."
)


@dataclass(frozen=True, slots=True)
class BeforeAfter:
    """The run that was signed and the newest one after the repair, side by side.

    `rows` is empty where one of them has no cylinder numbers; `why_not` then says why.
    """

    before: Run | None
    after: Run | None
    rows: tuple[ComparedCylinder, ...]
    why_not: str

    @property
    def before_estimates(self) -> tuple[Estimate, ...]:
        """Figures before the repair, in firing sequence."""
        return _estimates(self.before)

    @property
    def after_estimates(self) -> tuple[Estimate, ...]:
        """Figures after the repair, in firing sequence."""
        return _estimates(self.after)

    @property
    def starter(self) -> tuple[StarterPair, ...]:
        """Figures of starter and battery side by side."""
        if self.before is None or self.after is None:
            return ()
        before, after = (run.report for run in (self.before, self.after))
        return starter_pairs(before.starter if before else None, after.starter if after else None)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What differs in how the two were made, and what follows; the earlier is the one."""
        sides = [_side(run) for run in (self.before, self.after)]
        before, after = sides
        if before is None or after is None:
            return ()
        return condition_cautions(conditions_beside(before, after))


@dataclass(frozen=True, slots=True)
class CustomerCopy:
    """What the customer copy says."""

    complaint: Complaint | None
    outcome: Outcome | None
    judgement: Judgement | None
    evidence: BeforeAfter
    picture: Run | None
    result: str
    """What the test showed, in plain words; empty where there was none."""
    repeats: str
    """How often the test was made, before and after; empty where no bars are drawn."""
    unknown: tuple[str, ...]
    tests: tuple[str, ...]
    """What tests of the diagnosis found, in plain words."""
    found_elsewhere: str
    """What was found bad beside the verdict; for the shop, not the customer."""
    missing: tuple[str, ...]
    """What has to be written before the sheet is complete; for the shop, not the customer."""

    @property
    def is_unsettled(self) -> bool:
        """Whether the verdict leaves open where the fault lies."""
        signed = self.judgement
        return (
            signed is not None
            and signed.is_beyond_compression
            and signed.group is FaultGroup.UNSETTLED
        )

    @property
    def is_plug_out(self) -> bool:
        """Whether a bar is of a cylinder that was not tested, with its plug out."""
        return any(e.call == "open" for e in (*self.bars_before, *self.bars_after))

    @property
    def bars_before(self) -> tuple[Estimate, ...]:
        """Figures before the repair, without the second reading that only the shop can weigh."""
        return _without_humps(self.evidence.before_estimates)

    @property
    def bars_after(self) -> tuple[Estimate, ...]:
        """Figures after the repair, likewise."""
        return _without_humps(self.evidence.after_estimates)


def _side(run: Run | None) -> ComparedCapture | None:
    report = run.report if run else None
    if run is None or report is None:
        return None
    return ComparedCapture("", report, run.setup.analysis, run.setup.conditions)


def _estimates(run: Run | None) -> tuple[Estimate, ...]:
    report = run.report if run else None
    return report.estimates if report else ()


def _without_humps(estimates: tuple[Estimate, ...]) -> tuple[Estimate, ...]:
    return tuple(replace(e, hump_relative=None) for e in estimates)


def _judged(visit: Visit, purpose: str) -> Run | None:
    """Return the newest judged run; a capture that was set aside tells nothing."""
    return judged_runs(visit, purpose).first()


def before_after(visit: Visit, judgement: Judgement | None = None) -> BeforeAfter:
    """Return the two runs to compare: what was signed, and the newest judged after the repair.

    Of a closed job, as it was when it was closed.
    """
    signed = judgement.run if judgement else None
    if signed is not None and signed.verdict in {"", "not judged"}:
        signed = None
    before = signed or _judged(visit, VisitCapture.Purpose.DIAGNOSIS)
    after = _judged(visit, VisitCapture.Purpose.VERIFICATION)
    if before is not None and after is not None and before.pk == after.pk:
        before = _judged(visit, VisitCapture.Purpose.DIAGNOSIS)
    why_not = _why_not(before, after)
    rows = () if why_not else compared(_spans(before), _spans(after))
    return BeforeAfter(before, after, rows, why_not)


def uneven_after(visit: Visit) -> str:
    """Return what the newest capture after the repair found uneven; empty where it did not."""
    return _uneven_words(_judged(visit, VisitCapture.Purpose.VERIFICATION))


def _uneven_words(run: Run | None) -> str:
    report = run.report if run else None
    if report is None or not (report.verdict == "uneven" or is_high(report) or weaker_bank(report)):
        return ""
    words, _, detail = verdict_words(report)
    return f"{words}, {detail}" if detail else words


def _spans(run: Run | None) -> dict[int, Span]:
    return {
        e.cylinder: Span(e.relative, e.low, e.high, e.call)
        for e in _estimates(run)
        if e.cylinder is not None
    }


def _why_not(before: Run | None, after: Run | None) -> str:
    if before is None:
        return gettext(
            "No capture before the repair could be judged, so there is nothing to compare with."
        )
    if after is None:
        return gettext(
            "No capture after the repair has been judged yet; add one under the same conditions."
        )
    for run, when in ((before, gettext("before")), (after, gettext("after"))):
        report = run.report
        if report is None or not report.cylinders_known:
            return gettext(
                "The capture %(when)s the repair has no sync that names the cylinders, so "
                "the two cannot be compared cylinder by cylinder."
            ) % {"when": when}
        if report.open_cylinder is not None:
            return gettext(
                "The capture %(when)s the repair was made with the plug of cylinder "
                "%(open_cylinder)s out, so it shows nothing of that cylinder; record one "
                "with all plugs in."
            ) % {"when": when, "open_cylinder": report.open_cylinder}
    return ""


def customer_copy_of(visit: Visit) -> CustomerCopy:
    """Return the customer copy of a visit."""
    judgement = latest_judgement(visit)
    outcome = Outcome.objects.filter(visit=visit).first()
    evidence = before_after(visit, judgement)
    return CustomerCopy(
        complaint=Complaint.objects.filter(visit=visit).first(),
        outcome=outcome,
        judgement=judgement,
        evidence=evidence,
        picture=evidence.before,
        result=_result_words(evidence, judgement),
        repeats=repeats(
            visit, before=bool(evidence.before_estimates), after=bool(evidence.after_estimates)
        ),
        unknown=_unknown(visit, evidence, outcome, judgement),
        tests=tests_told(visit),
        found_elsewhere=found_elsewhere(judgement),
        missing=_missing(outcome),
    )


def _result_words(evidence: BeforeAfter, judgement: Judgement | None) -> str:
    if judgement is None:
        return ""
    measured = measured_of(judgement.visit)
    shown = _shown_words(evidence, judgement, measured.bad)
    report = evidence.before.report if evidence.before else None
    # where the test left open which it is, what measuring found is told with it
    was_open = is_open(judgement.cylinders, report.candidates if report else ())
    tells_good = not (was_open or judgement.is_beyond_compression)
    parts = [shown, measured_elsewhere(judgement.cylinders, measured, tells_good=tells_good)]
    if judgement.is_beyond_compression:
        parts += _swapped(judgement.visit)
    parts.append(idling_for_customer(judgement.visit))
    parts.append(measured_for_customer(judgement.visit))
    return " ".join(part for part in parts if part)


def _swapped(visit: Visit) -> list[str]:
    """Return what swap tests of orders that stand have shown, a line each."""
    swaps = SwapTest.objects.filter(work_order__visit=visit)
    return [swap.line for swap in swaps.exclude(work_order__state=WorkOrder.State.WITHDRAWN)]


def _shown_words(evidence: BeforeAfter, judgement: Judgement, bad: frozenset[int]) -> str:
    before = evidence.before
    report = before.report if before else None
    if judgement.is_beyond_compression:
        found = gettext("No compression fault was found.")
        if report is not None and report.verdict == "even":
            found = even_in_test(report)
        elif report is not None and report.verdict == "uneven":
            found = f"{uneven_but_beyond(report.candidates)} {beside_in_test(report)}".strip()
        return f"{found} {group_words(judgement.group, judgement.cylinders)}".strip()
    if not judgement.cylinders:
        if judgement.mechanical == Judgement.Mechanical.YES:
            inside = gettext("The trouble is inside the engine.")
            return f"{inside} {beside_in_test(report)}".strip()
        return gettext("The cause is not settled yet.")
    tested = _tested(report) if report else None
    return compression_words(judgement.cylinders, tested, bad, gauge_told(judgement.visit))


def _tested(report: Report) -> CrankingTest:
    numbered = [e for e in report.estimates if e.cylinder is not None and report.cylinders_known]
    return CrankingTest(
        is_uneven=report.verdict == "uneven",
        relative={e.cylinder: e.relative for e in numbered if e.cylinder is not None},
        calls={e.cylinder: e.call for e in numbered if e.cylinder is not None},
        low=tuple(e.relative for e in report.estimates if e.call == "suspect"),
        sets=tuple(tuple(sorted(c)) for c in report.candidates if c),
        beside=beside_in_test(report),
    )


def _unknown(
    visit: Visit, evidence: BeforeAfter, outcome: Outcome | None, judgement: Judgement | None
) -> tuple[str, ...]:
    found: list[str] = []
    # an even capture proves no repair of anything else
    is_beyond = judgement is not None and judgement.is_beyond_compression
    if evidence.before is not None:
        found += [str(_NOT_KNOWN_RELATIVE), *not_repeatable(visit, evidence.before)]
    drawn = [run.report for run in (evidence.before, evidence.after) if run and run.report]
    unnumbered = [report for report in drawn if report.estimates and not report.cylinders_known]
    if unnumbered and len(unnumbered) < len(drawn):
        found.append(
            gettext(
                "One of the two tests does not tell which cylinder is which: where the bars are "
                "named by letters, these are places in firing order."
            )
        )
    elif unnumbered:
        found.append(
            gettext(
                "The test does not tell which cylinder is which: the numbers beside the bars count "
                "in the order of firing and are no cylinder numbers."
            )
        )
    verified = outcome.verified if outcome else ""
    is_repaired = outcome is not None and bool(outcome.correction.strip())
    if verified == Outcome.Verified.NOT_YET and is_repaired:
        found.append(gettext("The repair has not been verified yet."))
    if verified == Outcome.Verified.NO:
        found.append(gettext("After the work the trouble was still there."))
    if verified == Outcome.Verified.NOT_REPAIRED:
        found.append(gettext("The fault was not repaired here and may get worse."))
    tells_of_a_repair = verified == Outcome.Verified.YES or (
        is_repaired and verified != Outcome.Verified.NOT_REPAIRED and evidence.before is not None
    )
    if tells_of_a_repair and evidence.after is None and not is_beyond:
        found.append(not_repeated(visit))
    if verified == Outcome.Verified.YES and _uneven_words(evidence.after):
        found.append(
            gettext("Repeated after the repair, the test still compared the cylinders unevenly.")
        )
    return tuple(found)


def missing_for_customer(visit: Visit) -> tuple[str, ...]:
    """Return what has to be written before the customer copy is complete."""
    return _missing(Outcome.objects.filter(visit=visit).first())


def _missing(outcome: Outcome | None) -> tuple[str, ...]:
    found = []
    if outcome is None or not outcome.cause.strip():
        found.append(gettext("the cause"))
    if outcome is None or not outcome.correction.strip():
        found.append(gettext("the correction"))
    if outcome is None or not outcome.verified:
        found.append(gettext("whether the repair was verified"))
    if outcome is None or not outcome.told_customer.strip():
        found.append(gettext("the words for the customer"))
    return tuple(found)
