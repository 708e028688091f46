"""The one way to write into a visit's timeline."""

from typing import Any

from jobs.models import TimelineEvent, Visit
from shopdiag.people.models import Member


def event_add(
    *, visit: Visit, by: Member | None, kind: str, words: str, data: dict[str, Any] | None = None
) -> TimelineEvent:
    """Add a line; call it in the transaction of the change it tells of.

    `kind` is a short slug ("stage", "codes", "capture"); `words` finish the sentence
    "NAME ..." and are shown as they are; `by` is None where the worker did it.
    """
    return TimelineEvent.objects.create(
        shop_id=visit.shop_id, visit=visit, by=by, kind=kind, words=words[:400], data=data or {}
    )
