"""What a person changed by hand: labels, the stretch judged, cycles left out, events marked."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, Self, TypeAlias, cast, get_args

from engines.core.firing import MOST_CYLINDERS, FiringOrder
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
EVENT_WORDS: dict[MarkedEvent, str] = {
    "ignition": "ignition",
    "injector": "injection",
    "cam": "cam edge",
    "tdc": "firing top dead centre",
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
            raise SetupError("Mark at least one event, or take the marks away.")
        if len(self.times_s) > MOST_MARKS:
            raise SetupError(f"Mark at most {MOST_MARKS} events; one is enough.")
        for time_s in self.times_s:
            _check_time(time_s)
        if any(b <= a for a, b in zip(self.times_s, self.times_s[1:], strict=False)):
            raise SetupError("Two events are marked at the same time; take one of them away.")
        if self.event not in _EVENTS:
            raise SetupError("An event by hand is ignition, injector, cam or tdc.")
        if self.every_deg not in (360, 720):
            raise SetupError("Events come every 360 or every 720 degrees.")

    @property
    def words(self) -> str:
        """The marks as words, such as "ignition of cylinder 3 at 1.234 s"."""
        some = ", ".join(f"{t:.3f}" for t in self.times_s[:3])
        more = f" and {len(self.times_s) - 3} more" if len(self.times_s) > 3 else ""
        every = ", every 360 degrees" if self.every_deg == 360 else ""
        return f"{EVENT_WORDS[self.event]} of cylinder {self.cylinder} at {some} s{more}{every}"


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
            raise SetupError(f"Labels can be moved by at most {MOST_CYLINDERS} places.")
        if self.span_s is not None:
            _check_span(self.span_s)
        if len(self.left_out_s) > MOST_LEFT_OUT:
            raise SetupError(
                f"At most {MOST_LEFT_OUT} cycles can be left out; choose the stretch instead."
            )
        for span_s in self.left_out_s:
            _check_span(span_s)
        if any(b[0] < a[1] for a, b in zip(self.left_out_s, self.left_out_s[1:], strict=False)):
            raise SetupError("Stretches left out must follow each other; join those that overlap.")

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
            raise SetupError("By hand there are shift, span_s, left_out_s and marks; nothing else.")
        span, left_out = data.get("span_s"), data.get("left_out_s")
        if left_out is not None and not isinstance(left_out, list | tuple):
            raise SetupError("Stretches left out are a list of from and to in seconds.")
        return cls(
            shift=_whole(data.get("shift") or 0, "The shift of the labels"),
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


def edits_words(hand: ManualEdits) -> list[str]:
    """Return what was changed, each as a few words for the line of a set-up."""
    words = []
    if hand.shift:
        words.append(f"labels moved {places_words(hand.shift)} by hand")
    if hand.span_s:
        words.append(f"only {span_words(hand.span_s)} judged, chosen by hand")
    if hand.left_out_s:
        places = ", ".join(span_words(s) for s in hand.left_out_s[:4])
        more = f" and {len(hand.left_out_s) - 4} more" if len(hand.left_out_s) > 4 else ""
        words.append(f"left out by hand: {places}{more}")
    if hand.marks:
        words.append(f"marked by hand: {hand.marks.words}")
    return words


def places_words(shift: int) -> str:
    """Return "on by 1 place" or "back by 2 places"."""
    count = abs(shift)
    return f"{'on' if shift > 0 else 'back'} by {count} place{'s' if count > 1 else ''}"


def span_words(span_s: SpanS) -> str:
    """Return "1.20 to 3.45 s"."""
    return f"{span_s[0]:.2f} to {span_s[1]:.2f} s"


def _check_time(time_s: float) -> None:
    if not abs(time_s) <= _LATEST_S:
        raise SetupError("A time must be a number of seconds in the recording.")


def _check_span(span_s: SpanS) -> None:
    for time_s in span_s:
        _check_time(time_s)
    if not span_s[0] < span_s[1]:
        raise SetupError("A stretch must end after it begins; give from and to in seconds.")


def _span(value: object) -> SpanS:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise SetupError("A stretch has a from and a to in seconds.")
    return _seconds(value[0]), _seconds(value[1])


def _seconds(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise SetupError("A time must be a number of seconds.")
    _check_time(value)  # a whole number may be too long to become another
    return float(value)


def _whole(value: object, what: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise SetupError(f"{what} must be a whole number.")
    return value


def _marks(value: object) -> ManualMarks | None:
    if value is None:
        return None
    if not isinstance(value, dict) or not isinstance(value.get("times_s"), list | tuple):
        raise SetupError("Events by hand need times_s and cylinder.")
    return ManualMarks(
        times_s=tuple(sorted(_seconds(t) for t in value["times_s"])),
        cylinder=_whole(value.get("cylinder"), "The cylinder of an event"),
        event=cast("MarkedEvent", value.get("event") or "ignition"),
        every_deg=cast("Literal[360, 720]", value.get("every_deg") or 720),
    )
