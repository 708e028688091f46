"""Reads about people."""

from django.db.models import F, QuerySet

from shopdiag.people.core.tokens import token_digest
from shopdiag.people.models import ApiToken, Member, Shop, User


def any_shop() -> bool:
    """Return whether the installation has a shop yet."""
    return Shop.objects.exists()


def memberships_of(user: User) -> QuerySet[Member]:
    """Return the shops a person may work in."""
    return Member.objects.filter(user=user, active=True).select_related("shop", "user")


def member_for(user: User, shop_id: int | None) -> Member | None:
    """Return the person's membership in the chosen shop, or the only one there is."""
    choices = memberships_of(user).order_by("pk")
    if shop_id is not None:
        chosen = choices.filter(shop_id=shop_id).first()
        if chosen:
            return chosen
    few = list(choices[:2])
    return few[0] if len(few) == 1 else None


def shop_of(member: Member) -> Shop:
    """Return the member's shop as it stands now, apart from the copy the request carries."""
    return Shop.objects.select_related("changed_by__user").get(pk=member.shop_id)


def members_of(member: Member) -> QuerySet[Member]:
    """Return everybody in the member's shop."""
    return (
        Member.objects.filter(shop_id=member.shop_id)
        .select_related("user")
        .order_by("-active", "user__name")
    )


def tokens_of(member: Member) -> QuerySet[ApiToken]:
    """Return the member's own tokens, newest first."""
    return (
        ApiToken.objects.filter(member=member)
        .select_related("revoked_by__user")
        .order_by("-created_at")
    )


def live_tokens_of(user: User) -> QuerySet[ApiToken]:
    """Return the tokens that still act as this person, in whichever shop."""
    return ApiToken.objects.filter(member__user=user, revoked_at=None)


def tokens_in_shop(member: Member) -> QuerySet[ApiToken]:
    """Return everybody's tokens in the member's shop: live ones first, then by person."""
    return (
        ApiToken.objects.filter(member__shop_id=member.shop_id)
        .select_related("member__user", "revoked_by__user")
        .order_by(F("revoked_at").desc(nulls_first=True), "member__user__name", "-created_at", "pk")
    )


def member_by_token(key: str) -> ApiToken | None:
    """Return the live token of `key` with its member."""
    return (
        ApiToken.objects.filter(
            digest=token_digest(key),
            revoked_at=None,
            member__active=True,
            member__user__is_active=True,
        )
        .select_related("member__user", "member__shop")
        .first()
    )
