"""Pages of invitations: the owner's list, and the page that a link opens."""

from django import forms
from django.contrib import messages
from django.contrib.auth import login
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables
from django.views.decorators.http import require_http_methods, require_POST

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.forms import InviteForm, JoinForm
from shopdiag.people.invitations import (
    InvitationOverError,
    has_joined,
    invitation_accept,
    invitation_accept_new,
    invitation_by_key,
    invitation_create,
    invitation_revoke,
    invitations_of,
)
from shopdiag.people.middleware import SHOP_KEY
from shopdiag.people.models import Member, User

UNPROCESSABLE = 422
GONE = 404
TOO_MANY = 429
_MOST_WRONG = 20
_WRONG_FOR_S = 600


@requires(Action.KEEP_SHOP)
@never_cache
@require_http_methods(["GET", "POST"])
def invitations(request: MemberRequest) -> HttpResponse:
    """Show the shop's invitations and make one, whose link is shown this once."""
    form = InviteForm(request.POST if request.method == "POST" else None)
    made, key = None, ""
    if request.method == "POST" and form.is_valid():
        try:
            made, key = invitation_create(member=request.member, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
    status = UNPROCESSABLE if form.errors else 200
    if made:
        form = InviteForm()
        status = 201 if key else 200
        if not key:
            messages.info(
                request,
                _(
                    "This invitation was made the first time it was sent, and its link was "
                    "shown then. If nobody copied it, revoke it and make another."
                ),
            )
    link = request.build_absolute_uri(reverse("people:join", args=[key])) if key else ""
    context = {"form": form, "link": link, "made": made, "rows": invitations_of(request.member)}
    return render(request, "people/invitations.html", context, status=status)


@requires(Action.KEEP_SHOP)
@require_POST
def revoke_invitation(request: MemberRequest, pk: int) -> HttpResponse:
    """End an invitation."""
    found = get_object_or_404(invitations_of(request.member), pk=pk)
    invitation_revoke(invitation=found)
    messages.success(
        request, _("The invitation for %(label)s is revoked.") % {"label": found.label}
    )
    return redirect("people:invitations")


@sensitive_post_parameters("password", "password_again")
@sensitive_variables("key")
@never_cache
@require_http_methods(["GET", "POST"])
def join(request: HttpRequest, key: str) -> HttpResponse:
    """Let the person whom a link was sent to join, as somebody new or as whom they sign in."""
    if _too_many_wrong(request):
        return render(request, "people/join_over.html", {"too_many": True}, status=TOO_MANY)
    invitation = invitation_by_key(key)
    if invitation is None:
        # Sent twice: the first time went through.
        return redirect("home") if has_joined(key, request.user) else _over(request)
    user = request.user if request.user.is_authenticated else None
    form = JoinForm(request.POST if request.method == "POST" and user is None else None)
    refusal, status = "", 200
    if request.method == "POST" and (user or form.is_valid()):
        try:
            member = _accepted(key, user, form)
        except InvitationOverError:
            return _over(request)
        except ValidationError as error:
            status = UNPROCESSABLE
            if user:
                refusal = " ".join(error.messages)
            else:
                form.add_error(None, error)
        else:
            return _welcome(request, member, is_new=user is None)
    elif request.method == "POST":
        status = UNPROCESSABLE
    context = {"form": form, "invitation": invitation, "refusal": refusal}
    return render(request, "people/join.html", context, status=status)


def _accepted(key: str, user: User | None, form: forms.Form) -> Member:
    if user is not None:
        return invitation_accept(key=key, user=user)
    given = form.cleaned_data
    return invitation_accept_new(
        key=key, name=given["name"], username=given["username"], password=given["password"]
    )


def _welcome(request: HttpRequest, member: Member, *, is_new: bool) -> HttpResponse:
    if is_new:
        login(request, member.user, backend="django.contrib.auth.backends.ModelBackend")
    request.session[SHOP_KEY] = member.shop_id
    messages.success(
        request,
        _("You are in %(shop)s now, as %(role)s.")
        % {"shop": member.shop.name, "role": member.get_role_display().lower()},
    )
    return redirect("home")


def _over(request: HttpRequest) -> HttpResponse:
    """Say the same of every link that leads nowhere, and count it."""
    key = _counter(request)
    cache.add(key, 0, _WRONG_FOR_S)
    try:
        cache.incr(key)
    except ValueError:  # it ran out between the two
        cache.set(key, 1, _WRONG_FOR_S)
    return render(request, "people/join_over.html", {"too_many": False}, status=GONE)


def _too_many_wrong(request: HttpRequest) -> bool:
    return int(cache.get(_counter(request), 0)) >= _MOST_WRONG


def _counter(request: HttpRequest) -> str:
    # The middleware has settled the address.
    return f"wrong-invitations:{request.META.get('REMOTE_ADDR', '')}"
