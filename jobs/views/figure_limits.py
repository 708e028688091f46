"""Limits of a test's figures: the manufacturer's for a job, an engine's, the shop's."""

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from engines.models import Engine
from jobs.core.measured_tests import Origin, typed_test
from jobs.core.tests_wanted import recorded_as
from jobs.forms.figure_limits import FigureLimitsForm
from jobs.models import CylinderFinding
from jobs.selectors.figure_limits import kept_with, limit_lines, scope_words, tests_with_limits
from jobs.selectors.limit_place import LimitPlace, may_set, place_of
from jobs.selectors.typed_findings import limits_at
from jobs.services.figure_limits import figure_limits_set
from jobs.views.closed import on_open_job
from jobs.views.findings import order_address
from jobs.views.rows_by_address import order_seen
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import post_form


@dataclass(frozen=True, slots=True)
class _Page:
    """One page of limits: its address, the way back from it, and what it is asked about.

    Parameters
    ----------
    tabs
        Title, what the address asks for, and whether it is that: whom the limits hold for.
    """

    place: LimitPlace
    address: str
    crumbs: tuple[tuple[str, str], ...]
    about: str
    asked: dict[str, str]
    scope: Origin
    tabs: tuple[tuple[object, dict[str, str], bool], ...] = ()
    wanted: tuple[str, ...] = ()


@requires(Action.ORDER_WORK)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def figure_limits(request: MemberRequest, order_id: int) -> HttpResponse:
    """Set limits of one test's figures in one scope; both are in the address."""
    order = order_seen(request.member, order_id)
    place = place_of(order)
    scope = request.GET.get("scope", Origin.JOB.value)
    scopes = [s for s in place.scopes if may_set(request.member, s)]
    if scope not in scopes:
        raise Http404(_("There are no such limits."))
    here = reverse("jobs:work-order", args=[order.pk])
    job = _("Job %(number)s") % {"number": order.visit.number}
    return _page(
        request,
        _Page(
            place=place,
            address=reverse("jobs:figure-limits", args=[order.pk]),
            crumbs=((_("Work orders"), reverse("jobs:work-orders")), (job, here)),
            about=job,
            asked={"scope": scope},
            scope=Origin(scope),
            tabs=tuple((scope_words(place, s), {"scope": s.value}, s == scope) for s in scopes),
            wanted=tuple(recorded_as(test["key"]) for test in order.tests),
        ),
        lambda test: order_address(order, test),
    )


@requires(Action.KEEP_ENGINES)
@require_http_methods(["GET", "HEAD", "POST"])
def engine_limits(request: MemberRequest, engine_id: int) -> HttpResponse:
    """Set the shop's limits for one engine, the library's engines too."""
    engine = get_object_or_404(Engine.objects.seen_by(request.member), pk=engine_id)
    place = LimitPlace(request.member.shop, engine.fuel, engine=engine)
    back = reverse("engines:detail", args=[engine.pk])
    address = reverse("jobs:engine-limits", args=[engine.pk])
    return _page(
        request,
        _Page(
            place=place,
            address=address,
            crumbs=((_("Engines"), reverse("engines:list")), (engine.name_words, back)),
            about=engine.name_words,
            asked={},
            scope=Origin.ENGINE,
        ),
        lambda test: f"{address}?{urlencode({'test': test})}",
    )


@requires(Action.KEEP_SHOP)
@require_http_methods(["GET", "HEAD", "POST"])
def shop_limits(request: MemberRequest) -> HttpResponse:
    """Set the shop's limits for every engine of a fuel, which is in the address."""
    fuel = request.GET.get("fuel", Engine.Fuel.PETROL.value)
    if fuel not in Engine.Fuel.values:
        raise Http404(_("There are no such limits."))
    address = reverse("jobs:shop-limits")
    places = {kind: LimitPlace(request.member.shop, kind) for kind in Engine.Fuel.values}
    return _page(
        request,
        _Page(
            place=places[fuel],
            address=address,
            crumbs=((_("Settings"), reverse("people:shop")),),
            about=request.member.shop.name,
            asked={"fuel": fuel},
            scope=Origin.SHOP,
            tabs=tuple(
                (scope_words(place, Origin.SHOP), {"fuel": kind}, kind == fuel)
                for kind, place in places.items()
            ),
        ),
        lambda test: f"{address}?{urlencode({'test': test, 'fuel': fuel})}",
    )


def _page(request: MemberRequest, page: _Page, done: Callable[[str], str]) -> HttpResponse:
    """Show the form of one test's limits, or keep what was typed into it."""
    place = page.place
    tests = tests_with_limits(place, page.wanted)
    test = request.GET.get("test", tests[0].value)
    entry = typed_test(test, place.fuel)
    if entry is None or not entry.limited:
        raise Http404(_("There are no such limits."))
    form = FigureLimitsForm(
        request.POST if request.method == "POST" else None,
        place=place,
        entry=entry,
        scope=page.scope,
    )

    def address(**asked: str) -> str:
        return f"{page.address}?{urlencode(page.asked | {'test': test} | asked)}"

    return post_form(
        request,
        form=form,
        save=lambda: figure_limits_set(
            place=place,
            member=request.member,
            test=test,
            scope=page.scope,
            limits=form.limits,
            source=form.cleaned_data["source"],
            form_token=form.cleaned_data["form_token"],
            seen=form.lines_seen,
        ),
        page="jobs/work/figure_limits.html",
        context={
            "crumbs": page.crumbs,
            "back": page.crumbs[-1][1],
            "about": page.about,
            "test_label": CylinderFinding.Test(test).label,
            "applied": limit_lines(entry, limits_at(place, entry), place.shop.pressure_unit),
            "kept": kept_with(place) if place.visit is None else (),
            "address": address(),
            "tests": [(t.label, address(test=t.value), t.value == test) for t in tests],
            "scopes": [(words, address(**asked), is_it) for words, asked, is_it in page.tabs],
        },
        done=done(test),
        saved=_("The limits are set."),
    )
