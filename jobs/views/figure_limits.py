"""Limits of a test's figures: the manufacturer's for a job, an engine's, the shop's."""

from urllib.parse import urlencode

from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from jobs.core.measured_tests import Origin
from jobs.forms.figure_limits import FigureLimitsForm
from jobs.models import CylinderFinding
from jobs.selectors.figure_limits import limit_lines_of, scope_words, scopes_of, tests_with_limits
from jobs.selectors.typed_findings import typed_test_of
from jobs.services.figure_limits import figure_limits_set
from jobs.views.closed import on_open_job
from jobs.views.findings import order_address
from jobs.views.rows_by_address import order_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import post_form


@requires(Action.ORDER_WORK)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def figure_limits(request: MemberRequest, order_id: int) -> HttpResponse:
    """Set limits of one test's figures in one scope; both are in the address."""
    order = order_seen(request.member, order_id)
    tests, scopes = tests_with_limits(order), scopes_of(order)
    test = request.GET.get("test", tests[0].value)
    scope = request.GET.get("scope", Origin.JOB.value)
    entry = typed_test_of(order, test)
    if entry is None or scope not in scopes:
        raise Http404(_("There are no such limits."))
    here = reverse("jobs:figure-limits", args=[order.pk])
    form = FigureLimitsForm(
        request.POST if request.method == "POST" else None,
        order=order,
        entry=entry,
        scope=Origin(scope),
    )
    return post_form(
        request,
        form=form,
        save=lambda: figure_limits_set(
            order=order,
            member=request.member,
            test=test,
            scope=Origin(scope),
            limits=form.limits,
            source=form.cleaned_data["source"],
            form_token=form.cleaned_data["form_token"],
            seen=form.lines_seen,
        ),
        page="jobs/work/figure_limits.html",
        context={
            "order": order,
            "visit": order.visit,
            "test_label": CylinderFinding.Test(test).label,
            "applied": limit_lines_of(order, entry),
            "address": f"{here}?{urlencode({'test': test, 'scope': scope})}",
            "tests": [
                (t.label, f"{here}?{urlencode({'test': t.value, 'scope': scope})}", t.value == test)
                for t in tests
            ],
            "scopes": [
                (
                    scope_words(order, s),
                    f"{here}?{urlencode({'test': test, 'scope': s.value})}",
                    s == scope,
                )
                for s in scopes
            ],
        },
        done=order_address(order, test),
        saved=_("The limits are set."),
    )
