"""What the bar of a capture's page offers: ways to sign, and the job's captures one by one."""

from dataclasses import dataclass
from statistics import fmean

from django.utils.translation import gettext as _

from jobs.core.accepting import why_overruled
from jobs.models import Judgement, Visit, VisitCapture
from jobs.selectors.captures import CaptureRow, capture_rows
from jobs.selectors.decision import Decision, run_to_decide
from jobs.selectors.pooled_captures import CapturesTogether
from traces.core.report import Report, weaker_bank

OVERRULE = "overrule"
_WIDER_POINTS = 2.0
"""How much wider intervals are, in points, before it is told."""


@dataclass(frozen=True, slots=True)
class SigningChoice:
    """One way to sign.

    Parameters
    ----------
    found
        One of `Judgement.Mechanical`, or `OVERRULE` for any other verdict.
    label
        On the bar.
    form
        Where it is signed: `accept` takes the verdict as it is, `own` asks for a reason.
    is_verdict
        Whether it is what the verdict says.
    """

    found: str
    label: str
    form: str
    is_verdict: bool


def signing_choices(decision: Decision) -> tuple[SigningChoice, ...]:
    """Return the ways to sign a result; what contradicts its verdict leads to a reason."""
    report = decision.report
    labels = (
        (Judgement.Mechanical.YES, _("Compression fault")),
        (Judgement.Mechanical.NO, _("None found")),
        (Judgement.Mechanical.UNSURE, _("Not settled")),
    )
    choices = tuple(
        SigningChoice(
            found=found,
            label=label,
            form="accept" if decision.acceptable and not _overrules(report, found) else "own",
            is_verdict=decision.acceptable and found == _said(report),
        )
        for found, label in labels
    )
    if not decision.acceptable:
        return choices
    return (*choices, SigningChoice(OVERRULE, _("Overrule"), "own", is_verdict=False))


def _overrules(report: Report | None, found: str) -> bool:
    if report is None:
        return False
    is_bank_weaker = bool(weaker_bank(report))
    return why_overruled(report.verdict, found, is_bank_weaker=is_bank_weaker) is not None


def _said(report: Report | None) -> str:
    """Return what a verdict amounts to; "" where it leaves that to the person."""
    if report is None or (report.verdict == "even" and weaker_bank(report)):
        return ""
    said = {"uneven": Judgement.Mechanical.YES.value, "even": Judgement.Mechanical.NO.value}
    return said.get(report.verdict, "")


@dataclass(frozen=True, slots=True)
class ListedCapture:
    """One capture of the job beside the one shown.

    Parameters
    ----------
    row
        The capture with its newest run.
    why_less
        Why it counts less than the one to sign; "" where it does not, or is that one.
    is_shown, is_to_sign, is_signed
        Whether it is the page's own, whether it is the one to sign, and whether what was signed
        last was signed on it.
    """

    row: CaptureRow
    why_less: str
    is_shown: bool
    is_to_sign: bool
    is_signed: bool


@dataclass(frozen=True, slots=True)
class CaptureList:
    """A job's captures in the order they came.

    Parameters
    ----------
    captures
        All of them.
    number
        Which of them is shown, from 1.
    """

    captures: tuple[ListedCapture, ...]
    number: int

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.captures)

    @property
    def before(self) -> VisitCapture | None:
        """The one before; None for the first."""
        return self.captures[self.number - 2].row.tie if self.number > 1 else None

    @property
    def after(self) -> VisitCapture | None:
        """The one after; None for the last."""
        return self.captures[self.number].row.tie if self.number < self.count else None

    @property
    def to_sign(self) -> VisitCapture | None:
        """The one to sign where that is another of the same state than the one shown."""
        found = next((c for c in self.captures if c.is_to_sign), None)
        shown = self.captures[self.number - 1]
        if found is None or found is shown or found.row.tie.purpose != shown.row.tie.purpose:
            return None
        return found.row.tie


def capture_list(
    visit: Visit,
    shown: VisitCapture,
    together: CapturesTogether | None,
    signed: Judgement | None,
) -> CaptureList | None:
    """Return a job's captures, each with why it counts less; None where there is one only."""
    if visit.visit_captures.count() < 2:
        return None
    rows = capture_rows(visit)
    run = run_to_decide(visit)
    best = next((r for r in rows if run and r.tie.capture_id == run.capture_id), None)
    listed = tuple(
        ListedCapture(
            row=row,
            why_less=_why_less(row, best, together),
            is_shown=row.tie.pk == shown.pk,
            is_to_sign=row is best and signed is None,
            is_signed=bool(signed and signed.run and signed.run.capture_id == row.tie.capture_id),
        )
        for row in rows
    )
    number = next(i for i, c in enumerate(listed, start=1) if c.is_shown)
    return CaptureList(listed, number)


def _why_less(row: CaptureRow, best: CaptureRow | None, together: CapturesTogether | None) -> str:
    """Say why a capture counts less than the one to sign."""
    if row.tie.is_aside:
        return _("set aside: %(aside_why)s") % {"aside_why": row.tie.aside_why}
    if row.report is None or row.report.verdict == "not judged":
        return _("no result to sign")
    if best is None or best.report is None or row is best:
        return ""
    if row.tie.purpose != best.tie.purpose:
        return row.tie.get_purpose_display().lower()
    return _less_settled(row.report, best.report) or _role(row, together)


def _role(row: CaptureRow, together: CapturesTogether | None) -> str:
    sides = together.sides if together else ()
    return next((s.role for s in sides if s.row.tie.pk == row.tie.pk), "")


def _less_settled(report: Report, best: Report) -> str:
    """Say in what a result settles less than the one to sign."""
    reasons = []
    if report.open_cylinder is not None:
        reasons.append(
            _("cylinder %(number)s was not tested, its plug was out")
            % {"number": report.open_cylinder}
        )
    if not report.cylinders_known and best.cylinders_known:
        reasons.append(_("does not tell which cylinder"))
    elif len(report.candidates) > 1 and len(best.candidates) == 1:
        reasons.append(_("leaves open which cylinder"))
    width, least = _width_points(report), _width_points(best)
    if width >= least + _WIDER_POINTS:
        reasons.append(
            _("wider intervals: %(width).0f points on average, %(least).0f in the one to sign")
            % {"width": width, "least": least}
        )
    return "; ".join(reasons)


def _width_points(report: Report) -> float:
    widths = [e.high - e.low for e in report.estimates]
    return 100 * fmean(widths) if widths else 0.0
