"""Angles of injector events and cam edges that the shop keeps with its engines."""

from dataclasses import replace

from django.db.models import QuerySet

from engines.models import Engine
from shopdiag.people.models import Member
from traces.core.setup import SyncSetup
from traces.models import EventAngle


def event_angles_kept(member: Member, *, retired: bool = False) -> QuerySet[EventAngle]:
    """Return the shop's angles by engine, the newest first; retired ones only when asked for."""
    rows = EventAngle.objects.seen_by(member).select_related(
        "engine", "created_by__user", "retired_by__user", "run"
    )
    if not retired:
        rows = rows.filter(retired_at=None)
    return rows.order_by("engine__name", "engine_id", "event", "cylinder", "-pk")


def event_angle_of(
    member: Member, engine: Engine, *, event: str, cylinder: int
) -> EventAngle | None:
    """Return the angle that counts for an event of an engine; None where none is kept."""
    kept = EventAngle.objects.seen_by(member).filter(
        engine=engine, event=event, cylinder=cylinder, retired_at=None
    )
    return kept.order_by("-pk").first()


def with_kept_angle(member: Member, engine: Engine | None, sync: SyncSetup) -> SyncSetup:
    """Return the sync with the angle kept with the engine, where it has none of its own."""
    if engine is None or sync.angle_deg is not None or sync.event == "ignition":
        return sync
    kept = event_angle_of(member, engine, event=sync.event, cylinder=sync.cylinder)
    if kept is None:
        return sync
    return replace(
        sync, angle_deg=kept.angle_deg, angle_spread_deg=kept.spread_deg, angle_from="kept"
    )
