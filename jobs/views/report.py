"""A job's report: all that is on record of one visit, on paper and as PDF."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from jobs.models import Visit
from jobs.selectors.job_page import job_page
from jobs.selectors.outcome import before_after
from jobs.selectors.report import agreed_lines, pictures_of, questions_asked
from jobs.views.papers import pdf_of, sheet_of, with_sheet
from jobs.views.rows_by_address import visit_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action


@requires(Action.SEE_WORK)
@require_safe
def job_report(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Show the report of a job."""
    visit = visit_seen(request.member, visit_id)
    return render(
        request, "jobs/visit/report.html", {"visit": visit} | with_sheet(_sheet(request, visit))
    )


@requires(Action.SEE_WORK)
@require_safe
def job_report_pdf(request: MemberRequest, visit_id: int) -> HttpResponse:
    """Return the report of a job as PDF."""
    visit = visit_seen(request.member, visit_id)
    return pdf_of(
        request,
        _sheet(request, visit),
        title=_("Job report · Job %(number)s") % {"number": visit.number},
        name=f"job-report-job-{visit.number}",
        page=reverse("jobs:job-report", args=[visit.pk]),
    )


def _sheet(request: MemberRequest, visit: Visit) -> str:
    page = job_page(request.member, visit)
    signed = page.work.judgement
    evidence = before_after(visit, signed)
    return sheet_of(
        request,
        "jobs/visit/_report_sheet.html",
        {
            "visit": visit,
            "card": page.card,
            "work": page.work,
            "numbering": page.numbering,
            "evidence": evidence,
            "plan": page.plan.plan if page.plan else None,
            "pictures": pictures_of(evidence.before, signed),
            "agreed": agreed_lines(request.member, visit, page.card.complaint),
            "questions": questions_asked(visit),
        },
    )
