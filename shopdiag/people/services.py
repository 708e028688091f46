"""Writes to shops, members and tokens, and the guarded save of shared records."""

import secrets
from collections.abc import Iterable
from datetime import timedelta
from typing import TypeVar
from uuid import UUID

from django.contrib.contenttypes.models import ContentType
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.core.roles import Role
from shopdiag.people.core.tokens import token_digest
from shopdiag.people.models import ApiToken, Member, Shop, User, Versioned

_Row = TypeVar("_Row", bound=Versioned)


class SavedMeanwhileError(Exception):
    """Somebody else saved the record after this person opened it.

    `current` is the record as it stands now; nothing of the person's input was written.
    """

    def __init__(self, current: Versioned) -> None:
        super().__init__(_("This record was saved by somebody else meanwhile."))
        self.current = current


def versioned_save(
    *, row: _Row, expected_version: int, member: Member, fields: Iterable[str]
) -> _Row:
    """Write `fields` of `row` if its version in the database is still `expected_version`.

    Raises
    ------
    SavedMeanwhileError
        If the version moved on; carries the row as it stands now.
    """
    now = timezone.now()
    model = type(row)
    changes = {name: getattr(row, name) for name in fields}
    changed = model._default_manager.filter(pk=row.pk, version=expected_version).update(  # noqa: SLF001
        **changes, version=expected_version + 1, changed_at=now, changed_by=member
    )
    if not changed:
        raise SavedMeanwhileError(model._default_manager.get(pk=row.pk))  # noqa: SLF001
    row.version = expected_version + 1
    row.changed_at = now
    row.changed_by = member
    return row


class ShopExistsError(Exception):
    """The installation has a shop already; the first-run page is over."""


@transaction.atomic
def shop_open(
    *, shop_name: str, owner_name: str, username: str, password: str, **about_shop: str
) -> Member:
    """Create a shop with its owner; `about_shop` are columns of the shop."""
    user = User(username=username, name=owner_name)
    user.set_password(password)
    user.full_clean()
    user.save()
    shop = Shop(name=shop_name, **about_shop)
    shop.full_clean()
    shop.save()
    return Member.objects.create(user=user, shop=shop, role=Role.OWNER)


@transaction.atomic
def first_shop_open(
    *, shop_name: str, owner_name: str, username: str, password: str, **about_shop: str
) -> Member:
    """Create the first shop with its owner, once, however many ask at the same time.

    Raises
    ------
    ShopExistsError
        If there is a shop already.
    """
    # One after another: on PostgreSQL by a lock on a row that is always there; SQLite
    # opens every transaction for writing and so queues up by itself.
    ContentType.objects.select_for_update().get(app_label="people", model="shop")
    if Shop.objects.exists():
        raise ShopExistsError
    return shop_open(
        shop_name=shop_name,
        owner_name=owner_name,
        username=username,
        password=password,
        **about_shop,
    )


def language_set(*, user: User, language: str) -> None:
    """Note in which language a person reads; empty follows their browser."""
    user.language = language
    user.save(update_fields=["language"])


def email_set(*, user: User, email: str) -> None:
    """Note where a person gets e-mail; empty sends them none."""
    user.email = email
    user.save(update_fields=["email"])


SHOP_FIELDS = (
    "name",
    "address",
    "phone",
    "time_zone",
    "pressure_unit",
    "distance_unit",
    "paper_size",
    "currency",
    "hourly_rate",
    "decimal_sign",
    "suspect_below",
    "watch_below",
    "bank_even_within",
    "altitude_m",
)


@transaction.atomic
def shop_change(*, shop: Shop, expected_version: int, member: Member) -> Shop:
    """Save a shop's letterhead, units and limits; what stands already is not saved again.

    Raises
    ------
    SavedMeanwhileError
        If somebody else saved the settings after this member opened them.
    """
    shop.full_clean()
    stored = Shop.objects.get(pk=shop.pk)
    if all(getattr(stored, name) == getattr(shop, name) for name in SHOP_FIELDS):
        return stored
    return versioned_save(
        row=shop, expected_version=expected_version, member=member, fields=SHOP_FIELDS
    )


@transaction.atomic
def member_add(
    *, shop: Shop, name: str, username: str, role: str, password: str | None = None
) -> Member:
    """Give a person a role in `shop`; a new username is created with `password`."""
    user = User.objects.filter(username=username).first()
    if user is None:
        if not password:
            raise ValidationError({"password": _("A new person needs a first password.")})
        user = User(username=username, name=name)
        user.set_password(password)
        user.full_clean()
        user.save()
    member = Member(shop=shop, user=user, role=role)
    member.full_clean()
    member.save()
    return member


@transaction.atomic
def member_change(
    *, member: Member, role: str, active: bool, by: Member, expected_version: int
) -> Member:
    """Change role or activity; a shop never loses its last active owner.

    Who is switched off loses all tokens here for good: coming back later revives none.

    Raises
    ------
    SavedMeanwhileError
        If somebody else changed this member after the form was opened.
    ValidationError
        If the shop would be left without an owner.
    """
    # All owners, in one order: two who step down at once wait for each other.
    owners = list(
        Member.objects.select_for_update()
        .filter(shop=member.shop, role=Role.OWNER, active=True)
        .order_by("pk")
    )
    leaves = role != Role.OWNER or not active
    if leaves and all(owner.pk == member.pk for owner in owners):
        raise ValidationError(
            _("This is the shop's last active owner; make somebody else owner first.")
        )
    stored = Member.objects.get(pk=member.pk)
    if (stored.role, stored.active) == (role, active):
        return stored
    member.role = role
    member.active = active
    member.full_clean()
    versioned_save(
        row=member, expected_version=expected_version, member=by, fields=("role", "active")
    )
    if not active:
        _revoke(ApiToken.objects.filter(member=member), by=by)
    return member


@transaction.atomic
def member_password_set(*, member: Member, password: str, by: Member) -> None:
    """Give a person a new password, which also ends his sessions and all his tokens.

    Raises
    ------
    ValidationError
        If the person works in other shops too: their owners have not agreed.
    """
    user = member.user
    if user.is_superuser or user.memberships.exclude(pk=member.pk).exists():
        raise ValidationError(
            _(
                "%(user)s also signs in elsewhere on this server; only the person can "
                "change that password, under their own name at the top."
            )
            % {"user": user}
        )
    user.set_password(password)
    user.save(update_fields=["password"])
    tokens_revoke(user=user, by=by)


@transaction.atomic
def token_create(
    *, member: Member, label: str, form_token: UUID | None = None, confirmed: Confirmed = False
) -> tuple[ApiToken, str]:
    """Make a token; its key is returned once and kept nowhere.

    The same form token gives the token that is there, and no key: that was shown the first time.
    Another one for what has a token that is in use is asked back unless `confirmed`.
    """
    if form_token:
        # One at a time for a member, so that a double submit finds the first.
        Member.objects.select_for_update(no_key=True).get(pk=member.pk)
        made = ApiToken.objects.filter(member=member, form_token=form_token).first()
        if made:
            return made, ""
        in_use = ApiToken.objects.filter(member=member, revoked_at=None)
        ask_back(confirmed, already_there(in_use, label=label), about={"label": label})
    key = secrets.token_urlsafe(32)
    token = ApiToken(member=member, label=label, digest=token_digest(key), form_token=form_token)
    token.full_clean()
    token.save()
    return token, key


def token_revoke(*, token: ApiToken, by: Member) -> None:
    """End a token's life at once; who ended it first stays on it."""
    _revoke(ApiToken.objects.filter(pk=token.pk), by=by)


def tokens_revoke(*, user: User, by: Member | None) -> int:
    """End all tokens of a person, in every shop, and return how many were alive."""
    return _revoke(ApiToken.objects.filter(member__user=user), by=by)


def tokens_revoke_of_inactive() -> int:
    """End all tokens of people and members that are switched off, by whatever way."""
    gone = Q(member__active=False) | Q(member__user__is_active=False)
    return _revoke(ApiToken.objects.filter(gone), by=None)


def _revoke(tokens: QuerySet[ApiToken], *, by: Member | None) -> int:
    return tokens.filter(revoked_at=None).update(revoked_at=timezone.now(), revoked_by=by)


def token_touch(*, token: ApiToken) -> None:
    """Note that a token is in use; once a minute is enough."""
    now = timezone.now()
    ApiToken.objects.filter(
        Q(last_used_at=None) | Q(last_used_at__lt=now - timedelta(minutes=1)), pk=token.pk
    ).update(last_used_at=now)
