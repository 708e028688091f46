"""The one way to write into a visit's timeline."""

from collections.abc import Callable
from typing import Any

from django.utils import translation

from jobs.models import LONGEST_LINE, TOLD, TimelineEvent, Visit
from shopdiag.people.language import language_choices, with_region
from shopdiag.people.models import Member


def event_add(
    *,
    visit: Visit,
    by: Member | None,
    kind: str,
    words: Callable[[], str],
    data: dict[str, Any] | None = None,
) -> TimelineEvent:
    """Add a line; call it in the transaction of the change it tells of.

    `kind` is a short slug ("stage", "codes", "capture"); `words` finish the sentence "NAME ...".
    They are asked for once in each language, so that everybody reads the line in their own and
    what people typed stands in it as they typed it. `by` is None where the worker did it.
    """
    told = {}
    for language, _name in language_choices():
        with translation.override(with_region(language, by)):
            told[language] = words()[:LONGEST_LINE]
    return TimelineEvent.objects.create(
        shop_id=visit.shop_id,
        visit=visit,
        by=by,
        kind=kind,
        words=words()[:LONGEST_LINE],
        data={**(data or {}), TOLD: told},
    )
