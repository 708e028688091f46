"""A work order on paper: the page that prints it, and the same sheet as PDF."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_safe

from jobs.models import WorkOrder
from jobs.selectors.order_lines import wanted_lines
from jobs.selectors.sheet import has_running, lines_by_test, sheet_rows
from jobs.views.papers import pdf_of, sheet_of, with_sheet
from jobs.views.rows_by_address import order_seen
from jobs.views.work import order_context
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action


@requires(Action.SEE_WORK)
@require_safe
def work_order_print(request: MemberRequest, order_id: int) -> HttpResponse:
    """Show a work order as one sheet of paper."""
    order = order_seen(request.member, order_id)
    context = {"order": order, "visit": order.visit}
    return render(
        request, "jobs/work/print.html", context | with_sheet(_order_sheet(request, order))
    )


@requires(Action.SEE_WORK)
@require_safe
def work_order_pdf(request: MemberRequest, order_id: int) -> HttpResponse:
    """Return the sheet of a work order as PDF."""
    order = order_seen(request.member, order_id)
    number = order.visit.number
    return pdf_of(
        request,
        _order_sheet(request, order),
        title=gettext("Work order · Job %(number)s") % {"number": number},
        name=f"work-order-{order.pk}-job-{number}",
        page=reverse("jobs:work-order-print", args=[order.pk]),
    )


def _order_sheet(request: MemberRequest, order: WorkOrder) -> str:
    context = order_context(request, order)
    findings = context["findings"]
    sheet = {
        "tests": wanted_lines(order, findings),
        "sheet_rows": sheet_rows(order, findings, context["unit"]),
        "has_running": has_running(order, findings),
        "lines_by_test": lines_by_test(order, findings, context["unit"]),
    }
    return sheet_of(request, "jobs/work/_order_sheet.html", context | sheet)
