"""The scales of the shop's clamps, as the set-up offers them."""

from shopdiag.people.models import Member
from traces.models import Clamp


def clamps_of(member: Member) -> list[Clamp]:
    """Return the clamps in use, by name; one with a switch stands there once for each scale."""
    return list(Clamp.objects.seen_by(member).in_use())


def clamp_names_by_scale(member: Member) -> dict[str, str]:
    """Return by scale, as the set-up writes it, which clamps have it."""
    found: dict[str, list[str]] = {}
    for clamp in clamps_of(member):
        found.setdefault(f"{clamp.mv_per_a:g}", []).append(clamp.name)
    return {scale: ", ".join(dict.fromkeys(names)) for scale, names in found.items()}
