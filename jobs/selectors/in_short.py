"""A job in short: what is read out on the phone, from what its page has read already."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.text import Truncator
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from jobs.core.amounts import amount_written
from jobs.core.next_step import Captures
from jobs.core.request import named
from jobs.core.stages import Stage
from jobs.core.used import Budget
from jobs.models import Complaint, Judgement, Question, Visit, WorkOrder
from jobs.selectors.captures import CaptureRow, verdict_words
from jobs.selectors.consents import up_to
from jobs.selectors.job_card import CountsLine, VisitCard
from jobs.selectors.next_step import captures_state, state_of
from jobs.selectors.work import VisitWork
from shopdiag.people.core.numerals import written
from traces.core.report import Estimate, Report

_MOST_CODES = 4
_LONGEST_ASKED = 240
"""Characters of a question; all of it stands on its work order."""


@dataclass(frozen=True, slots=True)
class ShortVerdict:
    """The verdict in one line with its figures.

    Parameters
    ----------
    words, kind
        What it says, and the badge's kind.
    is_signed
        Whether a person signed it; else it is a proposal.
    figures
        Each weak cylinder with its figure and interval, a phrase each.
    estimates
        What the small bars are drawn from; empty for none.
    by
        Who signed, or which captures say so.
    """

    words: str
    kind: str
    is_signed: bool
    figures: tuple[str, ...]
    estimates: Sequence[object]
    by: str


@dataclass(frozen=True, slots=True)
class InShort:
    """The card that a service writer reads out.

    Parameters
    ----------
    known
        What was seen and read, a phrase each.
    order
        The newest work order: its state, who has it, since when.
    found
        What its findings say, in short.
    questions
        What is open, a sentence each.
    agreed
        Time and amounts that the customer agreed to, and what orders plan.
    """

    known: tuple[str, ...]
    verdict: ShortVerdict | None
    order: WorkOrder | None
    order_who: str
    found: str
    questions: tuple[str, ...]
    agreed: tuple[str, ...]


def in_short(visit: Visit, card: VisitCard, work: VisitWork) -> InShort:
    """Return a visit in short."""
    is_open = visit.stage != Stage.CLOSED
    order = next((o for o in work.orders if o.state != WorkOrder.State.WITHDRAWN), None)
    return InShort(
        known=known_words(card),
        verdict=_signed(work.judgement) if work.judgement else _proposed(work),
        order=order,
        order_who=_who(order) if order else "",
        found=_found(order) if order else "",
        questions=tuple(_questions(work)) if is_open else (),
        agreed=tuple(_agreed(card, work, is_open=is_open)),
    )


def known_words(card: VisitCard) -> tuple[str, ...]:
    """Return what triage wrote down, a phrase each."""
    found = []
    if card.triage and card.triage.cranks:
        found.append(
            _("cranking sound: %(sound)s") % {"sound": card.triage.get_cranks_display().lower()}
        )
    if card.triage and card.triage.battery_v is not None:
        found.append(_("battery %(volts)s V") % {"volts": written(f"{card.triage.battery_v:.4g}")})
    if card.codes:
        codes = list(dict.fromkeys(line.code.code for line in card.codes))
        shown = ", ".join(codes[:_MOST_CODES])
        more = len(codes) - _MOST_CODES
        if more > 0:
            shown += " " + _("and %(count)s more") % {"count": more}
        found.append(shown)
    if card.misfires:
        found.append(_misfires(card.misfires[-1]))
    return tuple(words for words in found if words)


def _misfires(line: CountsLine) -> str:
    most = [int(cylinder) for cylinder, _count, is_most in line.rows if is_most]
    if not most:
        return ""
    count = max(count for _cylinder, count, _most in line.rows)
    return _("most misfires on %(cylinders)s (%(count)s)") % {
        "cylinders": named(most),
        "count": count,
    }


def _signed(judgement: Judgement) -> ShortVerdict:
    report = judgement.run.report if judgement.run else None
    what = judgement.get_mechanical_display()
    if judgement.is_beyond_compression:
        what += ": " + judgement.group_label.lower()
    if judgement.cylinders:
        what += ", " + judgement.cylinder_words
    return ShortVerdict(
        words=what,
        kind="suspect" if judgement.mechanical == Judgement.Mechanical.YES else "plain",
        is_signed=True,
        figures=_figures(report.estimates) if report else (),
        estimates=report.estimates if report else (),
        by=_signed_by(judgement, report),
    )


def _signed_by(judgement: Judgement, report: Report | None) -> str:
    """Return who signed, and what the capture itself says where that is not what was signed."""
    is_same = (
        judgement.kind == Judgement.Kind.ACCEPTED
        and judgement.mechanical == Judgement.Mechanical.YES
    )
    if report is None or is_same:
        return _("signed by %(name)s") % {"name": judgement.by.name}
    words, _kind, detail = verdict_words(report)
    return _("signed by %(name)s; the capture says: %(words)s") % {
        "name": judgement.by.name,
        "words": f"{words}, {detail}" if detail else words,
    }


def _proposed(work: VisitWork) -> ShortVerdict | None:
    together = next((found for found in work.together if not found.after_repair), None)
    if together is not None:
        places = tuple(line.place for line in together.lines)
        agrees = together.pooled.agrees
        return ShortVerdict(
            words=together.words.verdict,
            kind="watch",
            is_signed=False,
            figures=(),
            estimates=places if agrees else (),
            by=_("%(count)s captures together") % {"count": together.count},
        )
    judged = [r for r in work.captures if not r.tie.is_aside and _is_judged(r.report)]
    row = judged[-1] if judged else next((r for r in work.captures if r.report), None)
    return _of_row(row) if row else None


def _of_row(row: CaptureRow) -> ShortVerdict:
    report = row.report
    judged = report is not None and _is_judged(report)
    return ShortVerdict(
        words=f"{row.words}, {row.detail}" if row.detail else row.words,
        kind=row.kind,
        is_signed=False,
        figures=_figures(report.estimates) if report and judged else (),
        estimates=report.estimates if report and judged else (),
        by=str(row.tie.capture),
    )


def _is_judged(report: Report | None) -> bool:
    return report is not None and report.verdict != "not judged"


def _figures(estimates: Sequence[Estimate]) -> tuple[str, ...]:
    return tuple(
        _("cylinder %(number)s: %(figure)s %% of a good one, %(low)s to %(high)s %%")
        % {
            "number": e.cylinder,
            "figure": round(100 * e.relative),
            "low": round(100 * e.low),
            "high": round(100 * e.high),
        }
        for e in sorted(estimates, key=lambda one: one.cylinder or 0)
        if e.call == "suspect" and e.cylinder is not None
    )


def _who(order: WorkOrder) -> str:
    if order.accepted_by:
        return order.accepted_by.name
    if order.assigned_to:
        return _("for %(name)s") % {"name": order.assigned_to.name}
    return _("unassigned")


def _found(order: WorkOrder) -> str:
    if order.summary:
        return order.summary
    count = len(order.current)
    if not count:
        return ""
    return ngettext("%(count)s finding recorded", "%(count)s findings recorded", count) % {
        "count": count
    }


def _asked(question: Question) -> str:
    asked = {"name": question.by.name, "text": Truncator(question.text).chars(_LONGEST_ASKED)}
    if question.is_stop:
        return _("%(name)s stopped the work: %(text)s") % asked
    return _("%(name)s asks: %(text)s") % asked


def _questions(work: VisitWork) -> list[str]:
    found = [_asked(question) for question in work.questions]
    if work.open_order and work.open_order.superseded:
        found.append(work.open_order.superseded)
    if work.found_elsewhere:
        found.append(work.found_elsewhere)
    if work.yes_falls_short:
        found.append(work.yes_falls_short)
    found += [budget.warning for budget in work.used.passed] if work.used else []
    found += [s for t in work.together for s in t.words.disagreements]
    waiting = [r for r in work.captures if not r.tie.is_aside and state_of(r) is Captures.TO_SET_UP]
    if waiting and captures_state(work.captures) is Captures.JUDGED:
        found.append(
            ngettext(
                "%(count)s capture is not set up yet.",
                "%(count)s captures are not set up yet.",
                len(waiting),
            )
            % {"count": len(waiting)}
        )
    if work.awaits_consent:
        found.append(_("Does the customer want the repair?"))
    return found


def _agreed(card: VisitCard, work: VisitWork, *, is_open: bool) -> list[str]:
    found = []
    complaint = card.complaint
    used = work.used.shown if work.used else ()
    # what was passed stands among what is open, with what was agreed to
    told = [budget for budget in used if not (budget.is_passed and is_open)]
    warned = [budget for budget in used if budget not in told]
    if complaint and complaint.authorised_by and not _is_told(warned, complaint):
        parts = []
        if complaint.authorised_minutes is not None:
            parts.append(_("%(minutes)s min") % {"minutes": complaint.authorised_minutes})
        if complaint.authorised_amount:
            parts.append(amount_written(complaint.authorised_amount))
        if parts:
            found.append(_("diagnosis: %(agreed)s") % {"agreed": ", ".join(parts)})
    planned = sum(o.scope_minutes or 0 for o in work.orders if o.state != WorkOrder.State.WITHDRAWN)
    if planned and not used:
        found.append(_("planned on work orders: %(minutes)s min") % {"minutes": planned})
    found += [words for budget in told if not budget.is_repair for words in budget.words]
    said = work.consent
    if said is not None and not said.agreed:
        found.append(_("no repair wanted"))
    elif said is not None and (limits := up_to(said)):
        if not any(b.tells_agreed(said.minutes, said.amount) for b in warned if b.is_repair):
            found.append(_("repair: up to %(amount)s") % {"amount": limits})
    elif said is not None:
        found.append(_("repair agreed"))
    found += [words for budget in told if budget.is_repair for words in budget.words]
    return found


def _is_told(warned: Sequence[Budget], complaint: Complaint) -> bool:
    """Return whether a warning says what was authorised for the diagnosis."""
    minutes, amount = complaint.authorised_minutes, complaint.authorised_amount
    return any(b.tells_agreed(minutes, amount) for b in warned if not b.is_repair)
