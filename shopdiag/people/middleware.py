"""Who is asking, and in which shop."""

from collections.abc import Callable
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from shopdiag.people.models import Member
from shopdiag.people.selectors import member_for

SHOP_KEY = "shop_id"


class CurrentMemberMiddleware:
    """Set `request.member` (None for strangers) and show times in the shop's zone."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        member = None
        if request.user.is_authenticated:
            member = member_for(request.user, request.session.get(SHOP_KEY))
        request.member = member  # type: ignore[attr-defined]
        with timezone.override(zone_of(member)):
            return self.get_response(request)


def zone_of(member: Member | None) -> ZoneInfo | None:
    """Return the zone of the member's shop; None for strangers and zones that are not known."""
    try:
        return ZoneInfo(member.shop.time_zone) if member else None
    except (ZoneInfoNotFoundError, ValueError):
        return None
