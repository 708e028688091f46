"""Which earlier job a visit comes back for, and which later ones came back for it."""

from dataclasses import dataclass

from django.db.models import QuerySet

from jobs.core.comebacks import is_soon
from jobs.models import Vehicle, Visit
from shopdiag.people.models import Member


@dataclass(frozen=True, slots=True)
class ComebackLinks:
    """A visit beside the others of its vehicle.

    Parameters
    ----------
    of
        The job it comes back for, as a person says; None where nobody does.
    asked
        The job that was delivered soon before, where nobody said whether this one is about it.
    days
        How many days before this visit was opened that job was delivered.
    later
        Jobs that came back for this one.
    """

    of: Visit | None
    asked: Visit | None
    days: int
    later: tuple[Visit, ...]


def comeback_links(visit: Visit) -> ComebackLinks:
    """Return what a visit has to do with the others of its vehicle."""
    others = list(
        Visit.objects.filter(shop_id=visit.shop_id, vehicle_id=visit.vehicle_id)
        .exclude(pk=visit.pk)
        .order_by("pk")
    )
    of = next((v for v in others if v.pk == visit.comeback_of_id), None)
    before = [
        v for v in others if v.pk < visit.pk and v.closed_at and v.closed_at <= visit.opened_at
    ]
    last = before[-1] if before else None
    asked = last if last and is_soon(visit.opened_at, last.closed_at) else None
    told = of or asked
    closed_at = told.closed_at if told else None
    return ComebackLinks(
        of=of,
        asked=None if of else asked,
        days=max(0, (visit.opened_at - closed_at).days) if closed_at else 0,
        later=tuple(v for v in others if v.comeback_of_id == visit.pk),
    )


def comebacks_to_pick(
    member: Member, vehicle: Vehicle, visit: Visit | None = None
) -> QuerySet[Visit]:
    """Return the earlier jobs that a visit of the vehicle may come back for, the newest first."""
    earlier = Visit.objects.seen_by(member).filter(vehicle=vehicle).order_by("-pk")
    return earlier.filter(pk__lt=visit.pk) if visit else earlier
