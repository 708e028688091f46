"""What an owner does next in a shop where nothing has happened yet."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from jobs.models import Visit
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Invitation, Member
from traces.models import Clamp


@dataclass(frozen=True, slots=True)
class FirstStep:
    """One step, where it is done, and whether it is."""

    words: str
    why: str
    button: str
    address: str
    is_done: bool


def first_steps(member: Member) -> tuple[FirstStep, ...]:
    """Return an owner's steps until the shop has its first job; nothing for others."""
    if not member.may(Action.KEEP_SHOP) or Visit.objects.seen_by(member).exists():
        return ()
    people = Member.objects.filter(shop=member.shop_id).count() > 1
    invited = Invitation.objects.filter(shop=member.shop_id).exists()
    return (
        FirstStep(
            _("Check letterhead and limits"),
            _("Address and phone stand on papers; units and paper were asked already."),
            _("Settings"),
            reverse("people:shop"),
            bool(member.shop.address),
        ),
        FirstStep(
            _("Add your clamps"),
            _("With the scale on the switch, so that nobody has to remember it."),
            _("Clamps"),
            reverse("traces:clamps"),
            Clamp.objects.seen_by(member).in_use().exists(),
        ),
        FirstStep(
            _("Invite your people"),
            _("Each by a link of their own; they set their own password."),
            _("Invitations"),
            reverse("people:invitations"),
            people or invited,
        ),
        FirstStep(
            _("Take the first vehicle in"),
            _("With no recording of your own yet, upload the practice file there."),
            _("New job"),
            reverse("jobs:new"),
            False,
        ),
    )
