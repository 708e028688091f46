"""Rows by address, as far as the member may see them."""

from django.shortcuts import get_object_or_404

from jobs.models import Visit
from jobs.selectors.visits import visits_seen_by
from shopdiag.people.models import Member


def visit_seen(member: Member, visit_id: int) -> Visit:
    """Return the visit, or answer 404 as if another shop's did not exist."""
    return get_object_or_404(visits_seen_by(member).select_related("shop"), pk=visit_id)
