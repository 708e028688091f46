"""Reads about engines."""

from engines.models import Engine, EngineQuerySet
from shopdiag.people.models import Member


def engines_seen_by(member: Member) -> EngineQuerySet:
    """Return the library and the shop's own engines, the retired ones left out."""
    return Engine.objects.seen_by(member).in_use()


def engine_get(member: Member, pk: int) -> Engine:
    """Return one engine that the member may see, retired or not.

    Raises
    ------
    Engine.DoesNotExist
        If there is none, or it is another shop's.
    """
    return Engine.objects.seen_by(member).get(pk=pk)


def engine_kept_get(member: Member, pk: int) -> Engine:
    """Return one of the shop's own engines, which its members may change.

    Raises
    ------
    Engine.DoesNotExist
        If there is none, or it is the library's or another shop's.
    """
    return Engine.objects.kept_by(member).get(pk=pk)
