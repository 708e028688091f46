"""Inviting people: a link for one person and one role, that is used once or runs out."""

import secrets
from typing import TypeAlias
from uuid import UUID

from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.core.roles import Role
from shopdiag.people.core.tokens import token_digest
from shopdiag.people.models import Invitation, Member, User

AnyUser: TypeAlias = User | AnonymousUser


class InvitationOverError(Exception):
    """The link is used, revoked, too old or was never made; nobody is told which."""


def invitations_of(member: Member) -> QuerySet[Invitation]:
    """Return the shop's invitations, newest first."""
    found = Invitation.objects.filter(shop_id=member.shop_id)
    return found.select_related("used_by__user", "created_by__user")


def invitation_by_key(key: str) -> Invitation | None:
    """Return the invitation that a link opens; None where it is over, for whatever reason."""
    found = (
        Invitation.objects.filter(digest=token_digest(key)).select_related("shop").first()
        if key.isascii()
        else None
    )
    return found if found and found.is_open and _inviter_may(found) else None


def has_joined(key: str, user: AnyUser) -> bool:
    """Return whether this very person used the link."""
    return (
        user.is_authenticated
        and key.isascii()
        and Invitation.objects.filter(digest=token_digest(key), used_by__user=user.pk).exists()
    )


def _inviter_may(invitation: Invitation) -> bool:
    """Return whether whoever invited is still an owner here."""
    by = invitation.created_by
    return by.active and by.user.is_active and by.role == Role.OWNER


@transaction.atomic
def invitation_create(
    *,
    member: Member,
    label: str,
    role: str,
    form_token: UUID | None = None,
    confirmed: Confirmed = False,
) -> tuple[Invitation, str]:
    """Make an invitation; its key is returned once and kept nowhere.

    The same form token gives the invitation that is there, and no key. Another one for whom one
    is open is asked back unless `confirmed`.
    """
    # One at a time for a member, so that a double submit finds the first.
    Member.objects.select_for_update(no_key=True).get(pk=member.pk)
    if form_token:
        made = Invitation.objects.filter(created_by=member, form_token=form_token).first()
        if made:
            return made, ""
        waiting = [row for row in invitations_of(member) if row.is_open]
        same = already_there(waiting, label=label, role=role)
        ask_back(confirmed, same, about={"label": label, "role": role})
    key = secrets.token_urlsafe(32)
    invitation = Invitation(
        shop_id=member.shop_id,
        label=label,
        role=Role(role).value,
        digest=token_digest(key),
        form_token=form_token,
        created_by=member,
        expires_at=timezone.now() + Invitation.KEPT_FOR,
    )
    invitation.full_clean()
    invitation.save()
    return invitation, key


def invitation_revoke(*, invitation: Invitation) -> None:
    """End an invitation that nobody used yet."""
    Invitation.objects.filter(pk=invitation.pk, used_at=None, revoked_at=None).update(
        revoked_at=timezone.now()
    )


def invitation_accept_new(*, key: str, name: str, username: str, password: str) -> Member:
    """Make a new person a member of the shop that invited them.

    Raises
    ------
    InvitationOverError
        If the link leads nowhere (any more).
    ValidationError
        If somebody signs in with this username already; tried too often it ends the link.
    """
    taken = False
    with transaction.atomic():
        invitation = _locked(key)
        # As the sign-in page compares them.
        taken = User.objects.filter(username__iexact=username).exists()
        if taken:
            Invitation.objects.filter(pk=invitation.pk).update(refused=F("refused") + 1)
        else:
            user = User(username=username, name=name)
            user.set_password(password)
            user.full_clean()
            user.save()
            return _joined(invitation, user)
    raise ValidationError({"username": _("Choose another username; this one cannot be had.")})


@transaction.atomic
def invitation_accept(*, key: str, user: User) -> Member:
    """Make somebody who is signed in a member of the shop that invited them.

    Raises
    ------
    InvitationOverError
        If the link leads nowhere (any more).
    ValidationError
        If the person is in that shop already.
    """
    invitation = _locked(key)
    if Member.objects.filter(shop=invitation.shop, user=user).exists():
        raise ValidationError(_("You are in this shop already; your role is changed by its owner."))
    return _joined(invitation, user)


def _locked(key: str) -> Invitation:
    found = invitation_by_key(key)
    if found is None:
        raise InvitationOverError
    # One at a time: the second to use a link finds it used.
    locked = Invitation.objects.select_for_update(no_key=True).get(pk=found.pk)
    if not locked.is_open:
        raise InvitationOverError
    return locked


def _joined(invitation: Invitation, user: User) -> Member:
    member = Member(shop=invitation.shop, user=user, role=invitation.role)
    member.full_clean()
    member.save()
    invitation.used_at = timezone.now()
    invitation.used_by = member
    invitation.save(update_fields=["used_at", "used_by"])
    return member
