"""A vehicle's history, and who is on file already when a vehicle is taken in."""

from dataclasses import dataclass

from django.db.models import OuterRef, Q, QuerySet, Subquery

from jobs.core.search import Query, spellings
from jobs.core.vin import vin_check
from jobs.models import Customer, Vehicle, Visit
from jobs.selectors.captures import as_counted
from shopdiag.people.models import Member
from traces.models import Run, Work

MAX_PICKS = 8
MAX_RUNS = 30


def vehicle_history(member: Member, vehicle: Vehicle) -> QuerySet[Visit]:
    """Return a vehicle's visits with complaint, cause and correction, the newest first."""
    return (
        Visit.objects.seen_by(member)
        .with_vehicle()
        .filter(vehicle=vehicle)
        .select_related("complaint", "outcome", "triage", "comeback_of")
        .prefetch_related("codes", "work_orders")
        .order_by("-pk")
    )


def visit_with_odometer_before(vehicle: Vehicle, visit: Visit | None) -> Visit | None:
    """Return a vehicle's last visit with an odometer reading, before `visit` where one is given."""
    read = vehicle.visits.exclude(odometer=None)
    return (read.filter(pk__lt=visit.pk) if visit else read).order_by("-pk").first()


def vehicle_runs(member: Member, vehicle: Vehicle) -> list[Run]:
    """Return the newest judged analysis of each of a vehicle's captures, the newest first."""
    judged = (
        as_counted(Run.objects.seen_by(member))
        .filter(
            capture__visit_capture__visit__vehicle=vehicle,
            capture__visit_capture__aside_why="",
            state=Work.State.DONE,
        )
        .exclude(verdict__in=["", "not judged"])
        .defer("result")
    )
    newest = judged.filter(capture=OuterRef("capture")).order_by("-pk").values("pk")
    return list(
        judged.filter(pk=Subquery(newest[:1]))
        .select_related("capture__visit_capture__visit", "setup")
        .order_by("-capture__visit_capture__pk", "-pk")[:MAX_RUNS]
    )


def vehicles_to_pick(member: Member, query: Query) -> list[Vehicle]:
    """Return the few known vehicles that fit what is typed at intake."""
    if query.is_empty:
        return []
    fits = Q()
    if query.plate:
        fits |= Q(plate_key__contains=query.plate)
    if query.vin:
        fits |= Q(vin__contains=query.vin)
    if query.digits:
        fits |= Q(customer__phone_key__contains=query.digits)
    fits |= _name_has(query.words, "customer__name")
    return list(
        Vehicle.objects.seen_by(member).with_customer().filter(fits).order_by("-pk")[:MAX_PICKS]
    )


def customers_to_pick(member: Member, query: Query) -> list[Customer]:
    """Return the few known customers that fit what is typed at intake."""
    if query.is_empty:
        return []
    fits = _name_has(query.words, "name")
    if query.digits:
        fits |= Q(phone_key__contains=query.digits)
    return list(Customer.objects.seen_by(member).filter(fits).order_by("name", "pk")[:MAX_PICKS])


def _name_has(words: tuple[str, ...], field: str) -> Q:
    every = Q()
    for word in words:
        somewhere = Q()
        for spelling in spellings(word):
            somewhere |= Q(**{f"{field}__icontains": spelling})
        every &= somewhere
    return every


@dataclass(frozen=True, slots=True)
class VinRemarks:
    """What is odd about a VIN as it is typed, and which other vehicles on file have it."""

    warnings: tuple[str, ...]
    known: tuple[Vehicle, ...]


def vin_remarks(member: Member, typed: str, *, own: str = "") -> VinRemarks:
    """Return the remarks on a typed VIN; `own` is the id of the vehicle it is typed for."""
    check = vin_check(typed)
    known = vehicles_alike(member, plate_key="", vin=check.vin)
    return VinRemarks(check.warnings, tuple(v for v in known if str(v.pk) != own))


def vehicles_alike(member: Member, *, plate_key: str, vin: str) -> list[Vehicle]:
    """Return known vehicles of the same plate or VIN, so that none is entered twice."""
    same = Q()
    if plate_key:
        same |= Q(plate_key=plate_key)
    if vin:
        same |= Q(vin=vin)
    if not same:
        return []
    return list(Vehicle.objects.seen_by(member).with_customer().filter(same).order_by("-pk")[:3])
