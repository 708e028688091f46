"""Rows by address, as far as the member may see them."""

from django.shortcuts import get_object_or_404

from jobs.models import Visit, VisitCapture, WorkOrder
from shopdiag.people.models import Member


def visit_seen(member: Member, visit_id: int) -> Visit:
    """Return the visit, or answer 404 as if another shop's did not exist."""
    return get_object_or_404(
        Visit.objects.seen_by(member).with_vehicle().select_related("shop"), pk=visit_id
    )


def order_seen(member: Member, order_id: int) -> WorkOrder:
    """Return the work order with its verdict, or answer 404."""
    orders = WorkOrder.objects.seen_by(member).with_people().with_verdict()
    return get_object_or_404(orders, pk=order_id)


def capture_tie_seen(member: Member, capture_id: int) -> VisitCapture:
    """Return a capture of a visit that the member may see, or answer that there is none."""
    ties = VisitCapture.objects.seen_by(member).select_related(
        "visit__vehicle__engine",
        "visit__complaint",
        "capture__uploaded_by__user",
    )
    return get_object_or_404(ties, capture_id=capture_id)
