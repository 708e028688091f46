"""What a person changed by hand: labels, the stretch judged, cycles left out, events marked."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, Self, TypeAlias, cast, get_args

from engines.core.firing import MOST_CYLINDERS, FiringOrder
from shopdiag.people.core.words import Text, say, say_count, stays
from shopdiag.people.core.words import gettext as _
from traces.core.findings import joined
from traces.core.plain_json import PlainJson
from traces.core.setup.setup_error import SetupError

MarkedEvent: TypeAlias = Literal["ignition", "injector", "cam", "tdc"]
"""What a person saw: spark, injection, a cam's edge, or the piston at its firing top."""

SpanS: TypeAlias = tuple[float, float]
"""From and to, in the file's own time."""

MOST_MARKS = 50
MOST_LEFT_OUT = 200
_LATEST_S = 1e10  # some files count from 1970
_EVENTS: tuple[MarkedEvent, ...] = get_args(MarkedEvent)
EVENT_WORDS: dict[MarkedEvent, Text] = {
    "ignition": say("ignition"),
    "injector": say("injection"),
    "cam": say("cam edge"),
    "tdc": say("firing top dead centre"),
}


@dataclass(frozen=True, slots=True)
class ManualMarks:
    """Events of one cylinder that a person marked on the recording.

    Parameters
    ----------
    times_s
        When they came, in the file's own time, in order; one is enough.
    cylinder
        Whose they are.
    event
        What was seen.
    every_deg
        720 where it comes once a cycle; 360 where it comes with every crank turn, so that it
        marks one of two cylinders.

    Raises
    ------
    SetupError
        If there is no such event.
    """

    times_s: tuple[float, ...]
    cylinder: int
    event: MarkedEvent = "ignition"
    every_deg: Literal[360, 720] = 720

    def __post_init__(self) -> None:
        if not self.times_s:
            raise SetupError(_("Mark at least one event, or take the marks away."))
        if len(self.times_s) > MOST_MARKS:
            raise SetupError(
                _("Mark at most {most_marks} events; one is enough.").format(most_marks=MOST_MARKS)
            )
        for time_s in self.times_s:
            _check_time(time_s)
        if any(b <= a for a, b in zip(self.times_s, self.times_s[1:], strict=False)):
            raise SetupError(_("Two events are marked at the same time; take one of them away."))
        if self.event not in _EVENTS:
            raise SetupError(_("An event by hand is ignition, injector, cam or tdc."))
        if self.every_deg not in (360, 720):
            raise SetupError(_("Events come every 360 or every 720 degrees."))

    @property
    def words(self) -> Text:
        """The marks as words, such as "ignition of cylinder 3 at 1.234 s"."""
        what = say(
            "{event} of cylinder {cylinder} at {times}",
            event=EVENT_WORDS[self.event],
            cylinder=self.cylinder,
            times=_and_more(
                f"{', '.join(f'{t:.3f}' for t in self.times_s[:3])} s", len(self.times_s) - 3
            ),
        )
        return say("{marks}, every 360 degrees", marks=what) if self.every_deg == 360 else what


@dataclass(frozen=True, slots=True)
class ManualEdits(PlainJson):
    """All that a person changed by hand; nothing where none did.

    Parameters
    ----------
    shift
        By how many places of the firing order the labels are moved on; negative: back.
    span_s
        The only stretch to judge, from and to in the file's own time; None for all of the crank.
    left_out_s
        Stretches whose engine cycles are left out, in order and apart from each other.
    marks
        Events marked by hand, for where no sync was recorded or it does not decide.

    Raises
    ------
    SetupError
        If a stretch is none, or there are too many; one sentence with what to do.
    """

    shift: int = 0
    span_s: SpanS | None = None
    left_out_s: tuple[SpanS, ...] = ()
    marks: ManualMarks | None = None

    def __post_init__(self) -> None:
        if abs(self.shift) > MOST_CYLINDERS:
            raise SetupError(
                _("Labels can be moved by at most {most_cylinders} places.").format(
                    most_cylinders=MOST_CYLINDERS
                )
            )
        if self.span_s is not None:
            _check_span(self.span_s)
        if len(self.left_out_s) > MOST_LEFT_OUT:
            raise SetupError(
                _(
                    "At most {most_left_out} cycles can be left out; choose the stretch instead."
                ).format(most_left_out=MOST_LEFT_OUT)
            )
        for span_s in self.left_out_s:
            _check_span(span_s)
        if any(b[0] < a[1] for a, b in zip(self.left_out_s, self.left_out_s[1:], strict=False)):
            raise SetupError(
                _("Stretches left out must follow each other; join those that overlap.")
            )

    @property
    def is_empty(self) -> bool:
        """Whether nothing was changed."""
        return self == NO_EDITS

    def moved(self, places: int, cylinders: int) -> "ManualEdits":
        """Return this with the labels moved on further; a whole round is none at all."""
        shift = (self.shift + places) % cylinders
        return replace(self, shift=shift if 2 * shift <= cylinders else shift - cylinders)

    def without(self, span_s: SpanS) -> "ManualEdits":
        """Return this with one more stretch left out; those that overlap are joined."""
        _check_span(span_s)
        kept = []
        from_s, to_s = span_s
        for other in self.left_out_s:
            if other[0] < to_s and other[1] > from_s:
                from_s, to_s = min(from_s, other[0]), max(to_s, other[1])
            else:
                kept.append(other)
        return replace(self, left_out_s=tuple(sorted([*kept, (from_s, to_s)])))

    @classmethod
    def from_json(cls, data: object) -> Self:
        """Read what `to_json` wrote, or a person: what is missing is unchanged.

        Raises
        ------
        SetupError
            With the first thing that cannot be.
        """
        if data is None:
            return cls()
        if not isinstance(data, dict) or data.keys() - {"shift", "span_s", "left_out_s", "marks"}:
            raise SetupError(
                _("By hand there are shift, span_s, left_out_s and marks; nothing else.")
            )
        span, left_out = data.get("span_s"), data.get("left_out_s")
        if left_out is not None and not isinstance(left_out, list | tuple):
            raise SetupError(_("Stretches left out are a list of from and to in seconds."))
        return cls(
            shift=_whole(data.get("shift") or 0, _("The shift of the labels")),
            span_s=None if span is None else _span(span),
            left_out_s=tuple(_span(s) for s in left_out or ()),
            marks=_marks(data.get("marks")),
        )


NO_EDITS = ManualEdits()

_EDGE = 0.1
"""Of a cycle: after another change cycles are cut a little elsewhere, and must not drag their
neighbours along."""


def is_left_out(left_out_s: Sequence[SpanS], from_s: float, to_s: float) -> bool:
    """Return whether an engine cycle lies in a stretch left out, with more than its edge."""
    edge_s = _EDGE * (to_s - from_s)
    return any(min(to_s, b) - max(from_s, a) > edge_s for a, b in left_out_s)


def labels_moved(order: FiringOrder, shift: int) -> FiringOrder:
    """Return the firing order counted from the cylinder `shift` places on.

    Evenly firing engines differ by the labels alone; with uneven spacing the angles go with the
    cylinders, and the humps have to bear that out.
    """
    return order.starting_at(order.sequence[shift % len(order)])


def edits_words(hand: ManualEdits) -> list[Text]:
    """Return what was changed, each as a few words for the line of a set-up."""
    words = []
    if hand.shift:
        words.append(say("labels moved {places} by hand", places=places_words(hand.shift)))
    if hand.span_s:
        words.append(say("only {span} judged, chosen by hand", span=span_words(hand.span_s)))
    if hand.left_out_s:
        words.append(say("left out by hand: {spans}", spans=spans_words(hand.left_out_s)))
    if hand.marks:
        words.append(say("marked by hand: {marks}", marks=hand.marks.words))
    return words


def places_words(shift: int) -> Text:
    """Return "on by 1 place" or "back by 2 places"."""
    if shift > 0:
        return say_count("on by {count} place", "on by {count} places", shift)
    return say_count("back by {count} place", "back by {count} places", -shift)


def span_words(span_s: SpanS) -> Text:
    """Return "1.20 to 3.45 s"."""
    return say("{begin} to {end} s", begin=f"{span_s[0]:.2f}", end=f"{span_s[1]:.2f}")


def spans_words(spans_s: Sequence[SpanS]) -> Text:
    """Return the first four stretches, and how many more there are."""
    return _and_more(joined([span_words(s) for s in spans_s[:4]]), len(spans_s) - 4)


def _and_more(shown: object, count: int) -> Text:
    if count <= 0:
        return stays(shown)
    return say("{shown} and {count} more", shown=shown, count=count)


def _check_time(time_s: float) -> None:
    if not abs(time_s) <= _LATEST_S:
        raise SetupError(_("A time must be a number of seconds in the recording."))


def _check_span(span_s: SpanS) -> None:
    for time_s in span_s:
        _check_time(time_s)
    if not span_s[0] < span_s[1]:
        raise SetupError(_("A stretch must end after it begins; give from and to in seconds."))


def _span(value: object) -> SpanS:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise SetupError(_("A stretch has a from and a to in seconds."))
    return _seconds(value[0]), _seconds(value[1])


def _seconds(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise SetupError(_("A time must be a number of seconds."))
    _check_time(value)  # a whole number may be too long to become another
    return float(value)


def _whole(value: object, what: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise SetupError(_("{what} must be a whole number.").format(what=what))
    return value


def _marks(value: object) -> ManualMarks | None:
    if value is None:
        return None
    if not isinstance(value, dict) or not isinstance(value.get("times_s"), list | tuple):
        raise SetupError(_("Events by hand need times_s and cylinder."))
    return ManualMarks(
        times_s=tuple(sorted(_seconds(t) for t in value["times_s"])),
        cylinder=_whole(value.get("cylinder"), _("The cylinder of an event")),
        event=cast("MarkedEvent", value.get("event") or "ignition"),
        every_deg=cast("Literal[360, 720]", value.get("every_deg") or 720),
    )
