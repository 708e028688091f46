"""What a job's report holds beside its page: drawings of the capture, what was agreed and asked."""

from dataclasses import dataclass

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from jobs.core.amounts import amount_written
from jobs.models import Complaint, Judgement, Question, RepairConsent, Visit
from jobs.selectors.consents import up_to
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member
from traces.core.drawings import CyclePicture, Picture
from traces.models import Run
from traces.selectors.cycle_figures import run_cycle_picture
from traces.selectors.figures import run_evidence


@dataclass(frozen=True, slots=True)
class Pictures:
    """Drawings of one run; None where its samples are gone or it names no humps."""

    evidence: Picture | None = None
    cycle: CyclePicture | None = None


def pictures_of(run: Run | None, signed: Judgement | None) -> Pictures:
    """Return the drawings of a run, with the signed cylinders marked."""
    if run is None:
        return Pictures()
    marked = None
    if signed is not None:
        marked = [] if signed.is_beyond_compression else signed.cylinders
    try:
        return Pictures(run_evidence(run, marked=marked), run_cycle_picture(run))
    except FileNotFoundError:
        return Pictures()


def agreed_lines(member: Member, visit: Visit, complaint: Complaint | None) -> tuple[str, ...]:
    """Return what the customer said to diagnosis and repair, a line each, the first one first."""
    names = member.may(Action.SEE_CONTACT)
    lines = []
    if complaint is not None and complaint.authorised_by:
        limits = [amount_written(complaint.authorised_amount)]
        if complaint.authorised_minutes is not None:
            limits.insert(0, _("%(minutes)s min") % {"minutes": complaint.authorised_minutes})
        who = complaint.authorised_by if names else ""
        how = complaint.get_authorised_how_display().lower() if complaint.authorised_how else ""
        said = ", ".join(part for part in (*limits, who, how) if part)
        lines.append(_("Diagnosis: %(said)s") % {"said": said or _("authorised")})
    said_on_repair = visit.repair_consents.order_by("pk")
    lines += [_repair_line(consent, names=names) for consent in said_on_repair]
    return tuple(lines)


def _repair_line(said: RepairConsent, *, names: bool) -> str:
    answer = _("no repair wanted")
    if said.agreed:
        limits = up_to(said)
        answer = _("up to %(limits)s") % {"limits": limits} if limits else _("repair agreed")
    who = said.said_by if names else ""
    at = date_format(timezone.localtime(said.at), "j M Y")
    parts = (answer, said.scope.rstrip(". "), who, said.get_how_display().lower(), at)
    return _("Repair: %(said)s") % {"said": ", ".join(part for part in parts if part)}


def questions_asked(visit: Visit) -> tuple[Question, ...]:
    """Return every question and stop on the visit's orders, with what was answered."""
    asked = Question.objects.filter(work_order__visit=visit).order_by("pk")
    return tuple(asked.select_related("by__user", "answered_by__user"))
