"""Taking a vehicle in, on one page."""

from collections.abc import Mapping

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from jobs.core.search import query_read
from jobs.forms.new_job import IntakeForm
from jobs.models import Customer, Vehicle
from jobs.selectors.history import (
    customers_to_pick,
    vehicles_to_pick,
    vin_remarks,
)
from jobs.services.intake import visit_open
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import post_form
from shopdiag.people.models import Member


@requires(Action.TAKE_IN)
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: MemberRequest) -> HttpResponse:
    """Take a vehicle in: find or type customer and vehicle, write the complaint."""
    vehicle, customer = _chosen(request.member, request.POST or request.GET)
    form = IntakeForm(
        request.POST if request.method == "POST" else None,
        member=request.member,
        vehicle=vehicle,
        customer=customer,
    )
    text = request.GET.get("q", "")
    return post_form(
        request,
        form=form,
        save=lambda: visit_open(
            member=request.member,
            customer=customer or form.typed_customer,
            vehicle=vehicle or form.typed_vehicle,
            complaint=form.typed_complaint,
            odometer=form.visit.cleaned_data["odometer"],
            comeback_of=form.visit.cleaned_data.get("comeback_of"),
            form_token=form.who.cleaned_data["form_token"],
            confirmed=is_confirmed(form.who),
        ),
        page="jobs/intake/new.html",
        context={"q": text, **_matches(request.member, text)},
        done=lambda visit: reverse("jobs:visit", args=[visit.pk]),
        saved=lambda visit: _("Job %(number)s is open.") % {"number": visit.number},
    )


@requires(Action.TAKE_IN)
@require_safe
def search(request: MemberRequest) -> HttpResponse:
    """List the known vehicles and customers that fit what is being typed."""
    text = request.GET.get("q", "")
    context = {"q": text, **_matches(request.member, text)}
    return render(request, "jobs/intake/_matches.html", context)


@requires(Action.TAKE_IN)
@require_safe
def who(request: MemberRequest) -> HttpResponse:
    """Show the part of the page about customer and vehicle, with what was chosen."""
    vehicle, customer = _chosen(request.member, request.GET)
    form = IntakeForm(member=request.member, vehicle=vehicle, customer=customer)
    return render(request, "jobs/intake/_who.html", {"form": form})


@requires(Action.TAKE_IN)
@require_safe
def vin(request: MemberRequest) -> HttpResponse:
    """Say what is odd about a VIN, and whether it is on file."""
    typed = request.GET.get("vehicle-vin") or request.GET.get("vin", "")
    remarks = vin_remarks(request.member, typed, own=request.GET.get("vehicle", ""))
    return render(request, "jobs/intake/_vin.html", {"remarks": remarks})


def _chosen(member: Member, asked: Mapping[str, object]) -> tuple[Vehicle | None, Customer | None]:
    """Return the chosen rows on file; a vehicle brings its customer unless another does."""
    vehicle_id, customer_id = str(asked.get("vehicle", "")), str(asked.get("customer", ""))
    vehicles = Vehicle.objects.seen_by(member).with_customer()
    vehicle = vehicles.filter(pk=int(vehicle_id)).first() if _is_id(vehicle_id) else None
    if _is_id(customer_id):
        return vehicle, Customer.objects.seen_by(member).filter(pk=int(customer_id)).first()
    if vehicle and "customer" not in asked:
        return vehicle, vehicle.customer
    return vehicle, None


def _is_id(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 16


def _matches(member: Member, text: str) -> dict[str, object]:
    query = query_read(text)
    return {
        "vehicles": vehicles_to_pick(member, query),
        "customers": customers_to_pick(member, query),
    }
