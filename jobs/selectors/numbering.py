"""Who confirmed the cylinder numbering of a visit's vehicle, and what earlier visits say."""

from engines.core.mounting import Mounting
from jobs.models import NumberingCheck, Triage, Visit


def numbering_of(visit: Visit) -> NumberingCheck | None:
    """Return the confirmation that stands for this visit; None where nobody made one."""
    return visit.numbering_checks.select_related("by__user").order_by("-pk").first()


def mounting_of(visit: Visit, check: NumberingCheck | None) -> Mounting | None:
    """Return how the engine sits: as confirmed with the numbering, else as first noted."""
    if check is not None and check.mounting is not None:
        return check.mounting
    triage = Triage.objects.filter(visit=visit).first()
    return triage.mounting if triage else None


def mounting_offered(visit: Visit) -> dict[str, str]:
    """Return how the engine sits as it was said before, of this visit or the vehicle's last."""
    of_vehicle = {"visit__vehicle_id": visit.vehicle_id}
    said: list[NumberingCheck | Triage | None] = [
        visit.numbering_checks.exclude(direction="").order_by("-pk").first(),
        Triage.objects.filter(visit=visit).exclude(direction="").first(),
        NumberingCheck.objects.filter(**of_vehicle).exclude(direction="").order_by("-pk").first(),
        Triage.objects.filter(**of_vehicle).exclude(direction="").order_by("-visit").first(),
    ]
    known = next((one for one in said if one is not None), None)
    if known is None:
        return {}
    return {"direction": known.direction, "bank_a_side": known.bank_a_side}
