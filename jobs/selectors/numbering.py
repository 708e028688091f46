"""Who confirmed the cylinder numbering of a visit's vehicle, and what earlier visits say."""

from jobs.models import NumberingCheck, Visit


def numbering_of(visit: Visit) -> NumberingCheck | None:
    """Return the confirmation that stands for this visit; None where nobody made one."""
    return visit.numbering_checks.select_related("by__user").order_by("-pk").first()


def numbering_before(visit: Visit) -> NumberingCheck | None:
    """Return the last confirmation of an earlier visit of the vehicle, to offer its answers."""
    return (
        NumberingCheck.objects.filter(visit__vehicle_id=visit.vehicle_id)
        .exclude(visit=visit)
        .order_by("-pk")
        .first()
    )
