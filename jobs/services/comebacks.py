"""Saying which earlier job of a vehicle a visit comes back for."""

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from jobs.models import Visit
from jobs.services.timeline import event_add
from shopdiag.people.models import Member

NO_SUCH_EARLIER = gettext_noop("Choose an earlier job of the same vehicle, or none.")


def check_comeback(visit: Visit) -> None:
    """Refuse a job that this one cannot come back for."""
    earlier = visit.comeback_of
    if earlier is None:
        return
    is_same = (earlier.shop_id, earlier.vehicle_id) == (visit.shop_id, visit.vehicle_id)
    if not is_same or (visit.pk and earlier.pk >= visit.pk):
        raise ValidationError({"comeback_of": _(NO_SUCH_EARLIER)})


def tell_comeback(visit: Visit, member: Member) -> None:
    """Add the line to both jobs; the earlier one may be closed, as its papers do not show it."""
    earlier = visit.comeback_of
    if earlier is None:
        return
    event_add(
        visit=visit,
        by=member,
        kind="comeback",
        words=lambda: _("noted that it comes back for job %(number)s") % {"number": earlier.number},
        data={"comeback_of": earlier.pk},
    )
    event_add(
        visit=earlier,
        by=member,
        kind="comeback",
        words=lambda: _("noted that it came back as job %(number)s") % {"number": visit.number},
        data={"came_back_as": visit.pk},
    )
