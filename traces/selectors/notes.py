"""Notes pinned to places in a capture's time, as pages and plots show them."""

from dataclasses import dataclass
from datetime import datetime

from traces.models import PinnedNote


@dataclass(frozen=True, slots=True)
class Pinned:
    """A note with its number in the plot; struck ones stay, with who struck them and when."""

    pk: int
    number: int
    at_s: float
    text: str
    who: str
    when: datetime
    struck_by: str = ""
    struck_at: datetime | None = None

    @property
    def is_struck(self) -> bool:
        """Whether somebody struck it."""
        return self.struck_at is not None


@dataclass(frozen=True, slots=True)
class NotePlace:
    """Where a note stands in the plot. Its words stay out of the plot: they are the person's."""

    number: int
    at_s: float


def pinned_notes(capture_pk: int) -> tuple[Pinned, ...]:
    """Return a capture's notes in time order; numbers count them as they were pinned.

    The caller has seen to it that the member may see the capture.
    """
    rows = PinnedNote.objects.filter(capture_id=capture_pk).order_by("pk")
    rows = rows.select_related("created_by__user")
    strikes = {r.strikes_id: r for r in rows if r.strikes_id is not None}
    found = []
    for number, row in enumerate((r for r in rows if r.strikes_id is None), start=1):
        strike = strikes.get(row.pk)
        found.append(
            Pinned(
                pk=row.pk,
                number=number,
                at_s=row.at_s,
                text=row.text,
                who=row.created_by.name,
                when=row.created_at,
                struck_by=strike.created_by.name if strike else "",
                struck_at=strike.created_at if strike else None,
            )
        )
    return tuple(sorted(found, key=lambda n: (n.at_s, n.number)))


def note_places(capture_pk: int) -> tuple[NotePlace, ...]:
    """Return where a capture's notes stand that nobody struck."""
    return tuple(NotePlace(n.number, n.at_s) for n in pinned_notes(capture_pk) if not n.is_struck)
