"""What a mechanic writes on a work order: findings, limits, pictures, and that it is done."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST

from jobs.core.measured_tests import ALL_TYPED
from jobs.core.pressure import from_kpa
from jobs.forms.finding import FindingForm, cylinders_of
from jobs.forms.finding_figures import PRESSURES, figure_of
from jobs.forms.limits import LimitsForm
from jobs.forms.reading_table import ReadingTable, has_table
from jobs.forms.typed_fields import shown_in_field
from jobs.forms.work import CompleteForm, OrderPhotoForm
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.captures import fuel_of
from jobs.selectors.consents import repair_consent_of
from jobs.selectors.findings import gauge_rule_of, last_like, next_cylinder, unrecorded_tests
from jobs.selectors.typed_findings import bank_words
from jobs.services.completion import work_order_complete
from jobs.services.findings import finding_add
from jobs.services.notes import photo_add
from jobs.services.reading_table import readings_add
from jobs.services.work import work_order_limits
from jobs.views.closed import on_open_job
from jobs.views.rows_by_address import order_seen
from jobs.views.work import order_page
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.editing import post_form
from shopdiag.people.services import SavedMeanwhileError

_PLAIN = ("orifice_mm", "at_tdc", "is_warm", "oil_ml", "swept_ml")
"""Figures that have no unit of the shop."""


@requires(Action.DO_WORK)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def finding_new(request: MemberRequest, order_id: int) -> HttpResponse:
    """Record a finding, or correct one by a line that takes its place."""
    order = order_seen(request.member, order_id)
    replaced = _replaced(order, request.POST.get("replaces") or request.GET.get("replaces"))
    unit = order.visit.shop.pressure_unit
    form = FindingForm(
        request.POST if request.method == "POST" else None,
        order=order,
        unit=unit,
        initial=_initial(request, order, replaced, unit),
    )
    return post_form(
        request,
        form=form,
        save=lambda: finding_add(
            order=order,
            member=request.member,
            found=form.found,
            replaces=replaced,
            form_token=form.cleaned_data["form_token"],
        ),
        page="jobs/work/finding.html",
        context={"order": order, "visit": order.visit, "replaced": replaced},
        done=lambda _: _following(request, order, form.found.cylinder, form.found.test),
        saved=lambda finding: (
            gettext("Recorded for %(order_subject)s.") % {"order_subject": order_subject(finding)}
        ),
    )


def order_subject(finding: CylinderFinding) -> str:
    """Return whom a finding is about, in words."""
    if finding.bank is not None:
        return bank_words(finding.bank).lower()
    if finding.cylinder is None:
        return gettext("the engine")
    return gettext("cylinder %(cylinder)s") % {"cylinder": finding.cylinder}


def _following(request: MemberRequest, order: WorkOrder, cylinder: int | None, test: str) -> str:
    """Return where recording goes on: the next cylinder if that was asked for, or the order."""
    address = order_address(order, test)
    if "next" not in request.POST or cylinder is None:
        return address
    following = next_cylinder(order, test, cylinder, cylinders_of(order))
    if following is None:
        return address
    asked = urlencode({"test": test, "cylinder": following})
    return f"{reverse('jobs:finding-add', args=[order.pk])}?{asked}"


def order_address(order: WorkOrder, test: str) -> str:
    """Return where an order's page shows a test, unfolded."""
    return f"{reverse('jobs:work-order', args=[order.pk])}?{urlencode({'at': test})}#test-{test}"


@requires(Action.DO_WORK)
@require_POST
def readings(request: MemberRequest, order_id: int) -> HttpResponse:
    """Record a test's readings of all cylinders at once."""
    order = order_seen(request.member, order_id)
    test = request.POST.get("test", "")
    if not has_table(order, test):
        raise Http404(gettext("This test is not recorded as a table."))
    table = ReadingTable(request.POST, order=order, test=test)

    def page(status: int) -> HttpResponse:
        table.show_what_stands()
        return order_page(request, order, table=table, status=status)

    return post_form(
        request,
        form=table,
        save=lambda: readings_add(
            order=order,
            member=request.member,
            rows=table.changed_rows,
            form_token=table.cleaned_data["form_token"],
            confirmed=table.confirmed_as,
        ),
        page=page,
        done=order_address(order, test),
        saved=gettext("The readings are recorded."),
        called=table.called,
    )


def _replaced(order: WorkOrder, asked: str | None) -> CylinderFinding | None:
    if not asked:
        return None
    is_id = is_row_id(asked)
    found = order.findings.filter(pk=asked).first() if is_id else None
    if found is None:
        raise Http404(gettext("There is no such finding on this work order."))
    return found


def _initial(
    request: MemberRequest, order: WorkOrder, replaced: CylinderFinding | None, unit: str
) -> dict[str, Any]:
    if replaced is not None:

        def in_unit(value_kpa: float | None) -> float | None:
            return None if value_kpa is None else round(from_kpa(value_kpa, unit), 2)

        return {
            "replaces": replaced.pk,
            "cylinder": replaced.cylinder,
            "test": replaced.test,
            "outcome": replaced.outcome,
            **{name: in_unit(getattr(replaced, figure_of(name))) for name in PRESSURES},
            **{name: getattr(replaced, name) for name in ("leak_percent", *_PLAIN)},
            "bank": replaced.bank,
            "figures": replaced.figures,
            **{f.name: shown_in_field(f, replaced.figures or {}, unit) for f in ALL_TYPED},
            "heard_at": replaced.heard_at,
            "words": replaced.words,
            "conditions": replaced.conditions,
        }
    initial: dict[str, Any] = {
        name: value for name in ("cylinder", "test", "outcome") if (value := request.GET.get(name))
    }
    if "cylinder" not in initial and len(order.cylinders) == 1:
        initial["cylinder"] = str(order.cylinders[0])
    like = last_like(order, initial.get("test", ""))
    if like is not None:
        initial["conditions"] = like.conditions
        # what stays the same from cylinder to cylinder: the tester, the oil, the engine
        for name in ("orifice_mm", "oil_ml", "swept_ml", "is_warm"):
            initial[name] = getattr(like, name)
        if like.test == CylinderFinding.Test.REPEAT:
            # made again because the engine was in another state
            initial["is_warm"] = None
        if like.supply_kpa is not None:
            initial["supply"] = round(from_kpa(like.supply_kpa, unit), 2)
    return initial


@requires(Action.DO_WORK, Action.ORDER_WORK)
@require_http_methods(["GET", "HEAD", "POST"])
@on_open_job
def limits(request: MemberRequest, order_id: int) -> HttpResponse:
    """Set the gauge limits of this job and where they come from."""
    order = order_seen(request.member, order_id)
    unit, rule = order.visit.shop.pressure_unit, gauge_rule_of(order)
    fuel = fuel_of(order.visit, order.judgement.run)
    posted = request.method == "POST"
    form = LimitsForm(
        request.POST if posted else None,
        rule=rule,
        unit=unit,
        fuel=fuel,
        initial={"version": order.version},
    )
    status = 422 if posted else 200
    if posted and form.is_valid():
        try:
            work_order_limits(
                order=order,
                expected_version=form.cleaned_data["version"],
                member=request.member,
                rule=form.chosen,
            )
        except SavedMeanwhileError as error:
            data = request.POST.copy()
            data["version"] = str(error.current.version)
            form = LimitsForm(data, rule=rule, unit=unit, fuel=fuel)
            form.add_error(None, _saved_meanwhile(error, unit))
            status = 409
        except ValidationError as error:
            form.add_error(None, error.messages)
        else:
            messages.success(request, gettext("The limits of this job are set."))
            return redirect("jobs:work-order", order.pk)
    return render(
        request,
        "jobs/work/limits.html",
        {"order": order, "visit": order.visit, "form": form},
        status=status,
    )


def _saved_meanwhile(error: SavedMeanwhileError, unit: str) -> str:
    current = error.current
    who = current.changed_by.name if current.changed_by else gettext("Somebody else")
    now = gauge_rule_of(current).words(unit) if isinstance(current, WorkOrder) else ""
    return gettext(
        "%(who)s saved this work order meanwhile; its limits are now: %(now)s. "
        "Yours are still below; save again to put them in their place."
    ) % {"who": who, "now": now}


@requires(Action.DO_WORK)
@require_POST
def complete(request: MemberRequest, order_id: int) -> HttpResponse:
    """Finish an order once every suspect cylinder is answered for."""
    order = order_seen(request.member, order_id)
    is_repair = repair_consent_of(order) is not None
    form = CompleteForm(request.POST, unrecorded=unrecorded_tests(order), is_repair=is_repair)
    return post_form(
        request,
        form=form,
        save=lambda: work_order_complete(
            order=order,
            member=request.member,
            summary=form.cleaned_data["summary"],
            left_out=form.cleaned_data.get("left_out", ""),
            confirmed=is_confirmed(form),
        ),
        page=lambda status: order_page(request, order, complete_form=form, status=status),
        done=reverse("jobs:work-order", args=[order.pk]),
        saved=gettext("Done. The person who ordered it sees what you found."),
    )


@requires(Action.DO_WORK)
@require_POST
def order_photo(request: MemberRequest, order_id: int) -> HttpResponse:
    """Add a picture to a work order, with the cylinder it shows."""
    order = order_seen(request.member, order_id)
    form = OrderPhotoForm(request.POST, request.FILES, order=order, auto_id="id_photo_%s")
    return post_form(
        request,
        form=form,
        save=lambda: photo_add(
            visit=order.visit,
            file=form.cleaned_data["image"],
            member=request.member,
            caption=form.cleaned_data["caption"],
            form_token=form.cleaned_data["form_token"],
            work_order=order,
            cylinder=form.cleaned_data["cylinder"],
        ),
        page=lambda status: order_page(request, order, photo_form=form, status=status),
        done=reverse("jobs:work-order", args=[order.pk]),
        saved=gettext("The photo is on the work order."),
    )
