"""Keeping the angle of an injector event or a cam edge with an engine."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from engines.models import Engine
from shopdiag.people.models import Member, Shop
from shopdiag.people.typed_text import check_length
from traces.models import EventAngle, Run, Work

_SAME_DEG = 0.5


class EventAngleError(ValidationError):
    """The angle is not kept; the text is one sentence with what to do."""


@transaction.atomic
def event_angle_keep(
    *,
    member: Member,
    engine: Engine,
    event: str,
    cylinder: int,
    angle_deg: float,
    known_from: str,
) -> EventAngle:
    """Keep an angle that a person typed; the same one again stays one row.

    Raises
    ------
    EventAngleError
        If nobody says how it is known.
    """
    if not known_from.strip():
        raise EventAngleError(_("Say how the angle is known, like the page of the manual."))
    check_length("known_from", known_from.strip(), 200)
    Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
    kept = (
        EventAngle.objects.seen_by(member)
        .filter(engine=engine, event=event, cylinder=cylinder, retired_at=None)
        .order_by("-pk")
        .first()
    )
    if kept and kept.run_id is None and abs(kept.angle_deg - angle_deg) < _SAME_DEG:
        return kept
    return EventAngle.objects.create(
        shop_id=member.shop_id,
        engine=engine,
        event=event,
        cylinder=cylinder,
        angle_deg=angle_deg,
        known_from=known_from.strip(),
        created_by=member,
    )


@transaction.atomic
def event_angle_learn(*, member: Member, run: Run) -> EventAngle:
    """Keep the angle that a run measured with the engine of its set-up; twice counts once.

    Raises
    ------
    EventAngleError
        If the run measured none, or names no engine.
    """
    report = run.report if run.state == Work.State.DONE else None
    found = report.parts.event_angle if report else None
    if found is None:
        raise EventAngleError(
            _("This analysis measured no angle; set it up with an event to measure.")
        )
    if run.setup.engine is None:
        raise EventAngleError(
            _("The set-up names no engine to keep the angle with; analyse it again and choose one.")
        )
    Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
    kept = EventAngle.objects.seen_by(member).filter(run=run, retired_at=None).first()
    return kept or EventAngle.objects.create(
        shop_id=member.shop_id,
        engine=run.setup.engine,
        event=found.event,
        cylinder=found.cylinder,
        angle_deg=found.angle_deg,
        spread_deg=found.spread_deg,
        known_from=_measured_in(run, found.count),
        run=run,
        created_by=member,
    )


def event_angle_retire(*, member: Member, entry: EventAngle) -> bool:
    """Take an angle out of use; return whether it was in use."""
    return bool(
        EventAngle.objects.seen_by(member)
        .filter(pk=entry.pk, retired_at=None)
        .update(retired_at=timezone.now(), retired_by=member)
    )


def _measured_in(run: Run, count: int) -> str:
    """Return what a measured angle is known from."""
    opened = run.setup.analysis.opened_plug
    beside = (
        ""
        if opened is None
        else _(", beside the plug of cylinder %(opened)s out") % {"opened": opened}
    )
    known_from = _("%(count)s events%(beside)s, measured in %(capture)s") % {
        "count": count,
        "beside": beside,
        "capture": run.capture,
    }
    return known_from[:200]
