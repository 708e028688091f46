"""The shop's clamps: what each is called and how many millivolts it gives for an ampere."""

from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shopdiag.people.models import Member, Shop
from traces.models import Clamp

LEAST_MV_PER_A, MOST_MV_PER_A = 0.01, 10_000.0


@transaction.atomic
def clamp_add(
    *, member: Member, name: str, mv_per_a: float, form_token: UUID | None = None
) -> Clamp:
    """Add a clamp; the same form token, or the same clamp in use, gives the one that is there.

    Raises
    ------
    ValidationError
        If the scale is none that a clamp has.
    """
    if not LEAST_MV_PER_A <= mv_per_a <= MOST_MV_PER_A:
        raise ValidationError(
            {
                "mv_per_a": _(
                    "The scale lies between 0.01 and 10000 mV/A; read it off the clamp's switch."
                )
            }
        )
    # One at a time in a shop, so that a double submit finds the first.
    Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
    rows = Clamp.objects.seen_by(member)
    if form_token and (made := rows.filter(form_token=form_token).first()):
        return made
    for other in rows.in_use().filter(name__iexact=name.strip()):
        if other.mv_per_a == mv_per_a:
            return other
    return Clamp.objects.create(
        shop_id=member.shop_id,
        name=name.strip(),
        mv_per_a=mv_per_a,
        form_token=form_token,
        created_by=member,
    )


def clamp_retire(*, clamp: Clamp) -> None:
    """Offer a clamp no longer; captures that were set up with its scale keep it."""
    Clamp.objects.filter(pk=clamp.pk, retired_at=None).update(retired_at=timezone.now())
