"""How programs sign in: a token that stands for one member, or a page's session."""

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import (
    BaseAuthentication,
    SessionAuthentication,
    get_authorization_header,
)
from rest_framework.exceptions import AuthenticationFailed, NotAuthenticated
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from shopdiag.people.core.roles import Action
from shopdiag.people.middleware import zone_of
from shopdiag.people.models import ApiToken, Member, User
from shopdiag.people.selectors import member_by_token
from shopdiag.people.services import token_touch

if TYPE_CHECKING:
    # Views import the default authentication, so this module cannot import views.
    from rest_framework.views import APIView


class MemberTokenAuthentication(BaseAuthentication):
    """`Authorization: Token KEY`, made on the page “Your tokens”."""

    def authenticate(self, request: Request) -> tuple[User, ApiToken] | None:
        parts = get_authorization_header(request).split()
        if not parts or parts[0].lower() != b"token":
            return None
        if len(parts) != 2:
            raise AuthenticationFailed(_("Send the header as “Authorization: Token KEY”."))
        token = member_by_token(parts[1].decode("latin-1"))
        if token is None:
            raise AuthenticationFailed(_("This token is not known or was revoked; make a new one."))
        if _is_stale(token):
            token_touch(token=token)
        # As for a page; the middleware puts the zone back when the request ends.
        zone = zone_of(token.member)
        if zone:
            timezone.activate(zone)
        return token.member.user, token

    def authenticate_header(self, request: Request) -> str:  # noqa: ARG002 - DRF's signature
        return "Token"


class MemberSessionAuthentication(SessionAuthentication):
    """A page's session and CSRF token, for addresses that a page's script asks too."""

    def authenticate(self, request: Request) -> tuple[User, Member] | None:
        signed_in = super().authenticate(request)
        member: Member | None = getattr(request, "member", None)
        return None if signed_in is None or member is None else (member.user, member)


def _is_stale(token: ApiToken) -> bool:
    """Return whether its last use is worth noting again: asking often must not write often."""
    seen = token.last_used_at
    return seen is None or timezone.now() - seen > timedelta(minutes=1)


class MemberTokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """Tell the API description how to sign in."""

    target_class = MemberTokenAuthentication
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:  # noqa: ANN401, ARG002
        return {
            "type": "apiKey",
            "in": "header",
            "name": "Authorization",
            "description": _("“Token KEY”: the word, a blank, and a key made on “Your tokens”."),
        }


def member_of(request: Request) -> Member:
    """Return the member a checked request acts for."""
    member = _member_of(request)
    if member is None:
        raise NotAuthenticated
    return member


def _member_of(request: Request) -> Member | None:
    if isinstance(request.auth, ApiToken):
        return request.auth.member
    return request.auth if isinstance(request.auth, Member) else None


class IsMember(BasePermission):
    """Only live tokens and sessions, and only in roles that do what the view names.

    A view sets `actions = {"GET": Action.X, "POST": Action.Y}`; a method that is not
    named is refused.
    """

    message = gettext_lazy("Your role does not do this; ask the shop's owner.")

    def has_permission(self, request: Request, view: "APIView") -> bool:
        member = _member_of(request)
        if member is None:
            return False
        actions: dict[str, Action] = getattr(view, "actions", {})
        if request.method == "OPTIONS":
            return any(member.may(action) for action in actions.values())
        method = "GET" if request.method == "HEAD" else request.method or ""
        return method in actions and member.may(actions[method])
