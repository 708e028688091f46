"""Pages of forms, before anybody fills in what would be refused on saving."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from jobs.core.stages import Stage
from jobs.models import Visit, WorkOrder
from jobs.selectors.job_card import may_move_to
from jobs.views.rows_by_address import order_seen, visit_seen
from shopdiag.people.access import MemberRequest

P = ParamSpec("P")
_View = Callable[Concatenate[MemberRequest, P], HttpResponse]


def on_open_job(view: _View[P]) -> _View[P]:
    """Show a form only while what it writes to takes it; say what to do first otherwise.

    What is sent goes through to the service, so that its page gives back what was typed.
    """

    @wraps(view)
    def opened(request: MemberRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if request.method in {"GET", "HEAD"}:
            order = _order(request, kwargs.get("order_id"))
            visit = order.visit if order else _visit(request, kwargs.get("visit_id"))
            if visit and visit.stage == Stage.CLOSED:
                return _closed(request, visit)
            if order and not _takes_it(order, request):
                words = _("This work order is %(state)s; it stays as it is.") % {
                    "state": order.get_state_display().lower()
                }
                messages.info(request, words)
                return redirect("jobs:work-order", order.pk)
        return view(request, *args, **kwargs)

    return opened


def _takes_it(order: WorkOrder, request: MemberRequest) -> bool:
    """Return whether an order takes what the form writes; a done one takes corrections."""
    corrects = "replaces" in request.GET and order.state == WorkOrder.State.DONE
    return corrects or order.state in WorkOrder.OPEN_STATES


def _order(request: MemberRequest, order_id: object) -> WorkOrder | None:
    return order_seen(request.member, order_id) if isinstance(order_id, int) else None


def _visit(request: MemberRequest, visit_id: object) -> Visit | None:
    return visit_seen(request.member, visit_id) if isinstance(visit_id, int) else None


def _closed(request: MemberRequest, visit: Visit) -> HttpResponse:
    may_reopen = may_move_to(request.member, Stage.HAND_BACK)
    context = {"visit": visit, "may_reopen": may_reopen, "here": request.get_full_path()}
    return render(request, "jobs/visit/closed.html", context, status=409)
