"""Taking a vehicle in: customer, vehicle, visit and complaint."""

from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Max
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from jobs.core.amounts import amount_with_currency, amount_written
from jobs.core.authorised import USUAL_DIAGNOSIS, doubts_about_amount, doubts_about_minutes
from jobs.core.odometer import doubts_about_odometer
from jobs.core.search import phone_key, plate_key
from jobs.core.stages import Stage
from jobs.core.vin import vin_clean
from jobs.models import Complaint, Customer, Vehicle, Visit
from jobs.selectors.history import visit_with_odometer_before
from jobs.services.changes import record_change
from jobs.services.comebacks import check_comeback, tell_comeback
from jobs.services.timeline import event_add
from jobs.services.visits import check_stays_open
from shopdiag.people.asking_back import Confirmed, ask_back
from shopdiag.people.models import Member, Shop

CUSTOMER_FIELDS = ("name", "phone", "email")
VEHICLE_FIELDS = (
    "plate",
    "vin",
    "make",
    "model",
    "year",
    "engine",
    "engine_code",
    "fuel",
    "coils",
    "injection",
    "drive",
    "stop_start",
)
VISIT_FIELDS = ("odometer", "comeback_of")
COMPLAINT_FIELDS = (
    "words",
    "happens",
    "happens_note",
    "happened_on",
    "warning_lights",
    "recent_work",
    "authorised_minutes",
    "authorised_amount",
    "authorised_by",
    "authorised_how",
)


def customer_tidy(customer: Customer) -> Customer:
    """Bring a customer into the form in which it is kept and found."""
    customer.phone_key = phone_key(customer.phone)
    return customer


def vehicle_tidy(vehicle: Vehicle) -> Vehicle:
    """Bring a vehicle into the form in which it is kept and found."""
    vehicle.plate = " ".join(vehicle.plate.upper().split())
    vehicle.plate_key = plate_key(vehicle.plate)
    vehicle.vin = vin_clean(vehicle.vin)[:20]
    return vehicle


@transaction.atomic
def visit_open(
    *,
    member: Member,
    customer: Customer,
    vehicle: Vehicle,
    complaint: Complaint,
    odometer: int | None = None,
    comeback_of: Visit | None = None,
    form_token: UUID | None = None,
    confirmed: Confirmed = False,
) -> Visit:
    """Open a visit; customer and vehicle are new rows or rows of the member's shop.

    A known vehicle that somebody else brings gets the new customer. The same `form_token`
    sent twice gives the visit of the first time. Odd figures are asked back unless `confirmed`.

    Raises
    ------
    ValidationError
        If a value is refused, or a row is another shop's.
    """
    # The shop's row is the lock: numbers rise without gaps and a form sent twice waits here.
    Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
    if form_token:
        sent_before = Visit.objects.filter(form_token=form_token).first()
        if sent_before and sent_before.shop_id == member.shop_id:
            return sent_before
        if sent_before:
            form_token = None
    _check_day(complaint)
    ask_back(
        confirmed,
        _odometer_doubts(odometer, vehicle, member.shop),
        _authorised_doubts(complaint, member.shop),
        _opened_already(customer, vehicle, complaint, member) if form_token else (),
        about={
            "odometer": odometer,
            "vehicle": (vehicle.pk, vehicle.make, vehicle.model, vehicle.year),
            "customer": (customer.pk, customer.name),
            "words": complaint.words,
        }
        | _authorised(complaint),
    )
    customer = _customer_kept(customer, member)
    vehicle, new_owner = _vehicle_kept(vehicle, customer, member)
    last = Visit.objects.filter(shop_id=member.shop_id).aggregate(n=Max("number"))["n"] or 0
    visit = Visit(
        shop_id=member.shop_id,
        number=last + 1,
        vehicle=vehicle,
        odometer=odometer,
        comeback_of=comeback_of,
        opened_by=member,
        changed_by=member,
        form_token=form_token,
    )
    check_comeback(visit)
    visit.full_clean(validate_unique=False)
    visit.save()
    complaint.visit = visit
    complaint.authorised_amount = _amount(complaint, member)
    complaint.changed_by = member
    complaint.full_clean()
    complaint.save()
    event_add(
        visit=visit,
        by=member,
        kind="intake",
        words=lambda: _("took in %(vehicle)s") % {"vehicle": vehicle},
    )
    if new_owner:
        event_add(
            visit=visit, by=member, kind="customer", words=lambda: _("put another customer in")
        )
    if complaint.authorised_by:
        event_add(
            visit=visit, by=member, kind="authorised", words=lambda: authorised_words(complaint)
        )
    tell_comeback(visit, member)
    return visit


def _opened_already(
    customer: Customer, vehicle: Vehicle, complaint: Complaint, member: Member
) -> tuple[str, ...]:
    """Return the sentence on an open job that the same member opened with the same words.

    A plate or VIN that is on file is asked about by itself.
    """
    if not vehicle.pk and (vehicle.plate or vehicle.vin):
        return ()
    theirs: dict[str, Any] = (
        {"vehicle": vehicle.pk}
        if vehicle.pk
        else {
            "vehicle__make": vehicle.make,
            "vehicle__model": vehicle.model,
            "vehicle__plate": "",
            "vehicle__customer__name": customer.name,
        }
    )
    same = (
        Visit.objects.seen_by(member)
        .exclude(stage=Stage.CLOSED)
        .filter(opened_by=member, complaint__words=complaint.words, **theirs)
        .order_by("pk")
        .last()
    )
    if same is None:
        return ()
    return (
        _(
            "You opened job %(number)s for the same customer and vehicle with the same "
            "words. Confirm it if this is another job."
        )
        % {"number": same.number},
    )


def _odometer_doubts(
    odometer: int | None, vehicle: Vehicle, shop: Shop, visit: Visit | None = None
) -> tuple[str, ...]:
    """Return why a reading of a vehicle is likely a slip, now or at `visit`."""
    if odometer is None:
        return ()
    before = visit_with_odometer_before(vehicle, visit) if vehicle.pk else None
    at = visit.opened_at if visit else timezone.now()
    return doubts_about_odometer(
        odometer,
        unit=shop.distance_unit,
        last=before.odometer if before else None,
        years_since=(at - before.opened_at).days / 365 if before else 0.0,
        age_years=at.year - vehicle.year if vehicle.year else None,
    )


def _authorised_doubts(
    complaint: Complaint, shop: Shop, before: Complaint | None = None
) -> tuple[str, ...]:
    """Return what was authorised that is likely a slip and does not stand as it is."""
    minutes, amount = complaint.authorised_minutes, complaint.authorised_amount
    asked: tuple[str, ...] = ()
    if minutes is not None and not (before and before.authorised_minutes == minutes):
        asked += doubts_about_minutes(minutes)
    if amount and not (before and before.authorised_amount == amount):
        asked += doubts_about_amount(amount, shop.currency, usual=USUAL_DIAGNOSIS)
    return asked


def _authorised(complaint: Complaint) -> dict[str, object]:
    """Return the figures that a customer authorised."""
    return {
        "minutes": complaint.authorised_minutes,
        "amount": complaint.authorised_amount,
    }


def _amount(complaint: Complaint, member: Member) -> str:
    longest = 40
    return amount_with_currency(complaint.authorised_amount, member.shop.currency)[:longest]


def _check_day(complaint: Complaint) -> None:
    if complaint.happened_on and complaint.happened_on > timezone.localdate():
        raise ValidationError(
            {
                "happened_on": _(
                    "This day is still to come; "
                    "type the day when it was first noticed, or leave it empty."
                )
            }
        )


def _customer_kept(customer: Customer, member: Member) -> Customer:
    if customer.pk:
        if customer.shop_id != member.shop_id:
            raise ValidationError(
                _("This customer is not on file; choose another or type a new one.")
            )
        return customer
    customer.shop_id = member.shop_id
    customer.changed_by = member
    customer_tidy(customer).full_clean()
    customer.save()
    return customer


def _vehicle_kept(vehicle: Vehicle, customer: Customer, member: Member) -> tuple[Vehicle, bool]:
    """Return the saved vehicle, and whether a known one changed hands."""
    if vehicle.pk:
        if vehicle.shop_id != member.shop_id:
            raise ValidationError(
                _("This vehicle is not on file; choose another or type a new one.")
            )
        if vehicle.customer_id == customer.pk:
            return vehicle, False
        vehicle.customer = customer
        Vehicle.objects.filter(pk=vehicle.pk).update(
            customer=customer,
            version=F("version") + 1,
            changed_at=timezone.now(),
            changed_by=member,
        )
        vehicle.version += 1
        return vehicle, True
    if vehicle.engine and vehicle.engine.shop_id not in {None, member.shop_id}:
        raise ValidationError({"engine": _("This engine is not on file; choose another.")})
    vehicle.shop_id = member.shop_id
    vehicle.customer = customer
    vehicle.changed_by = member
    vehicle_tidy(vehicle).full_clean()
    vehicle.save()
    return vehicle, False


def authorised_words(complaint: Complaint) -> str:
    """Return what was authorised, as the timeline tells it."""
    parts = []
    if complaint.authorised_minutes is not None:
        minutes = complaint.authorised_minutes
        parts.append(
            ngettext("%(count)s minute", "%(count)s minutes", minutes) % {"count": minutes}
        )
    if complaint.authorised_amount:
        parts.append(amount_written(complaint.authorised_amount))
    what = _(" and ").join(parts) or _("the diagnosis")
    how = complaint.get_authorised_how_display()
    said = f" ({how.lower()})" if complaint.authorised_how else ""
    return _("noted that %(authorised_by)s authorised %(what)s%(said)s") % {
        "authorised_by": complaint.authorised_by,
        "what": what,
        "said": said,
    }


@transaction.atomic
def complaint_change(
    *, complaint: Complaint, expected_version: int, member: Member, confirmed: Confirmed = False
) -> bool:
    """Save the complaint; a new authorisation gets a line of its own in the timeline.

    Odd figures that are new are asked back unless `confirmed`.
    """
    check_stays_open(complaint.visit_id)
    _check_day(complaint)
    complaint.authorised_amount = _amount(complaint, member)
    before = Complaint.objects.get(pk=complaint.pk)
    asked = _authorised_doubts(complaint, member.shop, before)
    ask_back(confirmed, asked, about=_authorised(complaint))
    changed = record_change(
        row=complaint,
        expected_version=expected_version,
        member=member,
        fields=COMPLAINT_FIELDS,
        visits=[complaint.visit],
        kind="complaint",
        what=lambda: _("the complaint"),
    )
    is_said = changed and bool(complaint.authorised_by)
    if is_said and authorised_words(complaint) != authorised_words(before):
        event_add(
            visit=complaint.visit,
            by=member,
            kind="authorised",
            words=lambda: authorised_words(complaint),
        )
    return changed


@transaction.atomic
def visit_change(
    *, visit: Visit, expected_version: int, member: Member, confirmed: Confirmed = False
) -> bool:
    """Save the visit's own fields; an odd odometer that is new is asked back unless `confirmed`."""
    check_stays_open(visit.pk)
    stands = Visit.objects.get(pk=visit.pk)
    check_comeback(visit)
    if visit.odometer != stands.odometer:
        asked = _odometer_doubts(visit.odometer, visit.vehicle, member.shop, visit)
        ask_back(confirmed, asked, about={"odometer": visit.odometer})
    changed = record_change(
        row=visit,
        expected_version=expected_version,
        member=member,
        fields=VISIT_FIELDS,
        visits=[visit],
        kind="visit",
        what=lambda: _("the job"),
    )
    if changed and visit.comeback_of_id != stands.comeback_of_id:
        tell_comeback(visit, member)
    return changed


def customer_change(*, customer: Customer, expected_version: int, member: Member) -> bool:
    """Save a customer; every open visit's timeline tells that it changed, not to what."""
    customer_tidy(customer)
    return record_change(
        row=customer,
        expected_version=expected_version,
        member=member,
        fields=(*CUSTOMER_FIELDS, "phone_key"),
        visits=Visit.objects.filter(vehicle__customer=customer).exclude(stage=Stage.CLOSED),
        kind="customer",
        what=lambda: _("the customer"),
        keep_values=False,
    )


def vehicle_change(*, vehicle: Vehicle, expected_version: int, member: Member) -> bool:
    """Save a vehicle; every open visit's timeline tells what changed."""
    vehicle_tidy(vehicle)
    return record_change(
        row=vehicle,
        expected_version=expected_version,
        member=member,
        fields=(*VEHICLE_FIELDS, "plate_key"),
        visits=Visit.objects.filter(vehicle=vehicle).exclude(stage=Stage.CLOSED),
        kind="vehicle",
        what=lambda: _("the vehicle"),
    )
