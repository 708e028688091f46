"""How a visit ended: the outcome, before and after, and the customer copy."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import translation
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from jobs.core.stages import Stage
from jobs.forms.outcome import OutcomeForm
from jobs.models import Visit
from jobs.selectors.captures import latest_judgement
from jobs.selectors.job_card import may_move_to
from jobs.selectors.outcome import CustomerCopy, before_after, customer_copy_of
from jobs.selectors.work import visit_work
from jobs.services.outcome import outcome_change, outcome_of
from jobs.services.visits import visit_move
from jobs.views.closed import on_open_job
from jobs.views.papers import pdf_of, sheet_of, with_sheet
from jobs.views.rows_by_address import visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import edit_versioned
from shopdiag.people.language import is_language, language_choices, with_region


@requires(Action.VERIFY, Action.HAND_BACK)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def outcome_edit(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Write cause, correction and proof, or the customer's version of them."""
    visit = visit_seen(request.member, visit_id)
    outcome = outcome_of(visit=visit)
    form = OutcomeForm(request.POST or None, instance=outcome, member=request.member)
    return edit_versioned(
        request,
        form=form,
        save=lambda valid: outcome_change(
            outcome=outcome,
            expected_version=valid.expected_version,
            member=request.member,
            fields=valid.record_fields,
            confirmed=is_confirmed(valid),
        ),
        template="jobs/work/outcome.html",
        context={
            "visit": visit,
            "work": visit_work(request.member, visit),
            "evidence": before_after(visit, latest_judgement(visit)),
        },
        done=lambda _: _after_saving(request, visit),
    )


def _after_saving(request: MemberRequest, visit: Visit) -> str:
    """Return where it goes on; closes the job where the button said so."""
    job = reverse("jobs:visit", args=[visit.pk])
    if request.POST.get("then") != "close" or not may_move_to(request.member, Stage.CLOSED):
        return job + "#outcome"
    try:
        visit_move(visit=visit, to=Stage.CLOSED, member=request.member)
    except ValidationError as error:
        # What was written is saved all the same.
        for sentence in error.messages:
            messages.error(request, sentence)
    return job


@requires(Action.SEE_WORK)
@require_safe
def comparison(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Show the capture that was signed beside the one after the repair."""
    visit = visit_seen(request.member, visit_id)
    return render(
        request,
        "jobs/work/before_after.html",
        {"visit": visit, "evidence": before_after(visit, latest_judgement(visit))},
    )


@requires(Action.HAND_BACK)
@require_safe
def customer_copy(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Show the sheet for the customer."""
    visit = visit_seen(request.member, visit_id)
    copy = customer_copy_of(visit)
    language = _language_for_customer(request)
    with translation.override(language):
        # Worded anew for the customer; what is missing is said to the member.
        sheet = _customer_sheet(request, visit, customer_copy_of(visit))
    words = (
        _("Still to be written: %(missing)s.") % {"missing": ", ".join(copy.missing)}
        if copy.missing
        else ""
    )
    return render(
        request,
        "jobs/work/customer_copy.html",
        {
            "visit": visit,
            "copy": copy,
            "missing_words": words,
            "language": language,
            "spoken": language.partition("-")[0],
            "languages": language_choices(),
        }
        | with_sheet(sheet),
    )


@requires(Action.HAND_BACK)
@require_safe
def customer_copy_pdf(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Return the sheet for the customer as PDF."""
    visit = visit_seen(request.member, visit_id)
    with translation.override(_language_for_customer(request)):
        return pdf_of(
            request,
            _customer_sheet(request, visit, customer_copy_of(visit)),
            title=_("For the customer · Job %(number)s") % {"number": visit.number},
            name=f"customer-copy-job-{visit.number}",
            page=reverse("jobs:customer-copy", args=[visit.pk]),
        )


def _language_for_customer(request: MemberRequest) -> str:
    """Return the language asked for by the address, else the member's own."""
    asked = request.GET.get("language", "")
    return with_region(asked, request.member) if is_language(asked) else get_language() or "en"


def _customer_sheet(request: MemberRequest, visit: Visit, copy: CustomerCopy) -> str:
    return sheet_of(request, "jobs/work/_customer_sheet.html", {"visit": visit, "copy": copy})
