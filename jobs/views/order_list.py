"""The list of work orders."""

from itertools import groupby

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from jobs.models import WorkOrder
from jobs.selectors.work import Turn, work_orders_listed
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action

_PER_PAGE = 30
_TURN_WORDS = {
    Turn.YOURS: _("Yours"),
    Turn.FOR_YOU: _("For you, not accepted yet"),
    Turn.OF_YOUR_JOBS: _("Of jobs you opened"),
    Turn.FREE: _("Unassigned"),
    Turn.OTHERS: _("Others"),
}


@requires(Action.SEE_WORK)
@require_safe
def work_orders(request: MemberRequest) -> HttpResponse:
    """List the work orders under headings: the member's own, free ones, others."""
    finished = request.GET.get("show") == "finished"
    orders: QuerySet[WorkOrder] = work_orders_listed(request.member, finished=finished)
    page = Paginator(orders, _PER_PAGE).get_page(request.GET.get("page"))
    here = reverse("jobs:work-orders")
    groups = (
        []
        if finished
        else [
            (_TURN_WORDS[turn], list(some))
            for turn, some in groupby(page, key=lambda order: Turn(order.turn))  # type: ignore[attr-defined]
        ]
    )
    return render(
        request,
        "jobs/work/list.html",
        {
            "page": page,
            "groups": groups or [("", list(page))],
            "finished": finished,
            "tabs": [
                (gettext("Open"), here, not finished),
                (gettext("Finished"), f"{here}?show=finished", finished),
            ],
        },
    )
