"""What a person says about a file where it was understood wrongly: rate, channels, layout."""

import math
import sys
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from functools import reduce
from typing import Any, TypeVar

from shopdiag.people.core.words import NOTHING, Text, gettext_noop, say
from traces.core.findings import joined
from traces.core.readers.read_error import ReadError

DELIMITERS = {
    ",": gettext_noop("comma"),
    ";": gettext_noop("semicolon"),
    "\t": gettext_noop("tab"),
    "|": gettext_noop("bar"),
    " ": gettext_noop("blanks"),
}
DECIMALS = {".": gettext_noop("point"), ",": gettext_noop("comma")}
TIME_UNITS = {
    "s": gettext_noop("seconds"),
    "ms": gettext_noop("milliseconds"),
    "us": gettext_noop("microseconds"),
    "ns": gettext_noop("nanoseconds"),
    "min": gettext_noop("minutes"),
    "h": gettext_noop("hours"),
}
MOST_CORRECTED = 64
LONGEST_NAME = 80
LONGEST_UNIT = 20
MOST_LINE = 10_000
MOST_COLUMN = 2_000
_LOWEST_HZ, _HIGHEST_HZ = 1e-6, 1e12
_SMALLEST, _LARGEST = 1e-12, 1e12
_LATEST_S = 1e10

_Part = TypeVar("_Part")


class CorrectionError(ReadError):
    """The correction contradicts itself or does not fit the file; one sentence."""


@dataclass(frozen=True, slots=True)
class ChannelCorrection:
    """What is said about one channel.

    Parameters
    ----------
    number
        Of the channel, from 1, as the file has them.
    name
        What it is called; as in the file where None.
    unit
        As in the file where None; "" where it has none.
    factor
        What the file's figures are multiplied by: 0.001 makes volts of millivolts.
    left_out
        Whether it is not read at all.
    """

    number: int
    name: str | None = None
    unit: str | None = None
    factor: float = 1.0
    left_out: bool = False

    def __post_init__(self) -> None:
        _check_whole(self.number, say("A channel's number"), 1, MOST_CORRECTED)
        if self.name is not None:
            _check_text(self.name, say("A channel's name"), 1, LONGEST_NAME)
        if self.unit is not None:
            _check_text(self.unit, say("A unit"), 0, LONGEST_UNIT)
        _check_figure(self.factor, say("A channel's factor"))
        if not _SMALLEST <= abs(self.factor) <= _LARGEST:
            raise CorrectionError(
                say(
                    "A channel's factor is a number other than 0, like 0.001 for millivolts; "
                    "type it again."
                )
            )
        if not isinstance(self.left_out, bool):
            raise CorrectionError(say("A channel is left out or it is not; say true or false."))

    def to_json(self) -> dict[str, Any]:
        """Return what was said, and nothing else."""
        said = {k: v for k, v in asdict(self).items() if v not in (None, False)}
        if self.factor == 1.0:
            del said["factor"]
        return said

    @property
    def says_nothing(self) -> bool:
        """Whether the channel stays as the file has it."""
        return self == ChannelCorrection(self.number)

    @property
    def words(self) -> Text:
        """What is said, as a part of a sentence."""
        if self.left_out:
            return say("channel {number} left out", number=self.number)
        said = []
        if self.name is not None:
            said.append(say("called “{name}”", name=self.name))
        if self.unit is not None:
            said.append(say("in {unit}", unit=self.unit) if self.unit else say("without unit"))
        if self.factor != 1.0:
            said.append(say("times {factor}", factor=f"{self.factor:g}"))
        return say("channel {number} {changes}", number=self.number, changes=joined(said))


@dataclass(frozen=True, slots=True)
class TextCorrection:
    """How a delimited text is to be taken apart; None leaves a point to the reader.

    Parameters
    ----------
    delimiter, decimal
        One of `DELIMITERS`, one of `DECIMALS`.
    heading_line
        Line of the headings, from 1; 0 where there are none.
    first_row_line
        Line of the first row of numbers, from 1.
    time_column
        Column of the times, from 1; 0 where there is none.
    time_unit
        One of `TIME_UNITS`.
    """

    delimiter: str | None = None
    decimal: str | None = None
    heading_line: int | None = None
    first_row_line: int | None = None
    time_column: int | None = None
    time_unit: str | None = None

    def __post_init__(self) -> None:
        _check_choice(self.delimiter, say("The sign between columns"), DELIMITERS)
        _check_choice(self.decimal, say("The decimal sign"), DECIMALS)
        _check_choice(self.time_unit, say("The unit of the times"), TIME_UNITS)
        if self.heading_line is not None:
            _check_whole(self.heading_line, say("The line of the headings"), 0, MOST_LINE)
        if self.first_row_line is not None:
            _check_whole(self.first_row_line, say("The first line of numbers"), 1, MOST_LINE)
        if self.time_column is not None:
            _check_whole(self.time_column, say("The column of the times"), 0, MOST_COLUMN)
        if (self.heading_line or 0) >= (self.first_row_line or math.inf):
            raise CorrectionError(
                say(
                    "The headings stand above the first row of numbers; correct one of the "
                    "two lines."
                )
            )
        if self.time_column == 0 and self.time_unit is not None:
            raise CorrectionError(
                say("Without a column of times there is no unit of times; leave one of them out.")
            )

    @property
    def is_about_time(self) -> bool:
        """Whether anything is said about the times."""
        return self.time_column is not None or self.time_unit is not None

    def to_json(self) -> dict[str, Any]:
        """Return what was said, and nothing else."""
        return {k: v for k, v in asdict(self).items() if v is not None}

    @property
    def words(self) -> list[Text]:
        """What is said, as parts of a sentence."""
        said = []
        if self.delimiter is not None:
            said.append(say("columns parted by {sign}", sign=say(DELIMITERS[self.delimiter])))
        if self.decimal is not None:
            said.append(say("decimal {sign}", sign=say(DECIMALS[self.decimal])))
        if self.heading_line is not None:
            where = (
                say("headings in line {line}", line=self.heading_line)
                if self.heading_line
                else say("no headings")
            )
            said.append(where)
        if self.first_row_line is not None:
            said.append(say("numbers from line {line}", line=self.first_row_line))
        if self.time_column is not None:
            column = (
                say("times in column {column}", column=self.time_column)
                if self.time_column
                else say("no times")
            )
            said.append(column)
        if self.time_unit is not None:
            said.append(say("times in {unit}", unit=say(TIME_UNITS[self.time_unit])))
        return said


@dataclass(frozen=True, slots=True)
class Correction:
    """What a person says about a file.

    Parameters
    ----------
    rate_hz
        Sample rate; it wins over the file's own.
    start_s
        Time of the first sample.
    channels
        One for each channel that something is said about.
    text
        How it is to be taken apart, where it is delimited text.
    """

    rate_hz: float | None = None
    start_s: float | None = None
    channels: tuple[ChannelCorrection, ...] = ()
    text: TextCorrection = field(default_factory=TextCorrection)

    def __post_init__(self) -> None:
        if self.rate_hz is not None:
            _check_figure(self.rate_hz, say("The sample rate"))
            if not _LOWEST_HZ <= self.rate_hz <= _HIGHEST_HZ:
                raise CorrectionError(
                    say("A sample rate is a number of hertz over 0, like 2000; type it again.")
                )
        if self.start_s is not None:
            _check_figure(self.start_s, say("The start"))
            if abs(self.start_s) > _LATEST_S:
                raise CorrectionError(
                    say("The start is a time in seconds, like -0.5; type it again.")
                )
        if len(self.channels) > MOST_CORRECTED:
            raise CorrectionError(
                say(
                    "At most {most_corrected} channels can be corrected.",
                    most_corrected=MOST_CORRECTED,
                )
            )
        if len({channel.number for channel in self.channels}) < len(self.channels):
            raise CorrectionError(say("One channel is corrected twice; say it once."))
        said = tuple(channel for channel in self.channels if not channel.says_nothing)
        object.__setattr__(self, "channels", said)

    def __bool__(self) -> bool:
        return self != Correction()

    @classmethod
    def from_json(cls, data: object) -> "Correction":
        """Return what `to_json` wrote, or a program sent.

        Raises
        ------
        CorrectionError
            If anything in it is not known or of the wrong kind.
        """
        given = _known(cls, data, say("The correction"))
        listed = given.pop("channels", [])
        if not isinstance(listed, list):
            raise CorrectionError(say("The channels of a correction are a list."))
        channels = []
        for one in listed:
            about = _known(ChannelCorrection, one, say("A channel's correction"))
            if "number" not in about:
                raise CorrectionError(
                    say("A channel's correction says which by its number from 1.")
                )
            channels.append(ChannelCorrection(**about))
        text = _known(TextCorrection, given.pop("text", {}), say("The correction's text"))
        return cls(channels=tuple(channels), text=TextCorrection(**text), **given)

    def to_json(self) -> dict[str, Any]:
        """Return what was said as plain values; empty where nothing was."""
        said: dict[str, Any] = {}
        if self.rate_hz is not None:
            said["rate_hz"] = self.rate_hz
        if self.start_s is not None:
            said["start_s"] = self.start_s
        if self.channels:
            said["channels"] = [channel.to_json() for channel in self.channels]
        if text := self.text.to_json():
            said["text"] = text
        return said

    @property
    def words(self) -> Text:
        """What is said, as one line."""
        said = self.text.words
        if self.rate_hz is not None:
            said.append(say("{rate} Hz", rate=f"{self.rate_hz:g}"))
        if self.start_s is not None:
            said.append(say("starting at {start} s", start=f"{self.start_s:g}"))
        said += [channel.words for channel in self.channels]
        return reduce(_followed, said) if said else NOTHING


def _known(kind: type[Any], data: object, what: Text) -> dict[str, Any]:
    if not isinstance(data, Mapping):
        raise CorrectionError(say("{what} is an object of names and values.", what=what))
    names = {one.name for one in fields(kind)}
    for name in data:
        if name not in names:
            raise CorrectionError(
                say("{what} has no “{name}”; leave that out.", what=what, name=str(name)[:40])
            )
    return dict(data)


def _check_whole(value: object, what: Text, least: int, most: int) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise CorrectionError(
            say(
                "{what} is a whole number from {least} to {most}; type it again.",
                what=what,
                least=least,
                most=most,
            )
        )


def _check_figure(value: object, what: Text) -> None:
    figure = isinstance(value, int | float) and not isinstance(value, bool)
    # a whole number may be too long for any figure
    if not figure or not abs(value) <= sys.float_info.max:  # type: ignore[arg-type]
        raise CorrectionError(say("{what} is a number; type it again.", what=what))


def _check_text(value: object, what: Text, least: int, most: int) -> None:
    if (
        not isinstance(value, str)
        or not value.isprintable()
        or value != value.strip()
        or not least <= len(value) <= most
    ):
        raise CorrectionError(
            say(
                "{what} has {least} to {most} plain characters and no blanks around it; "
                "type it again.",
                what=what,
                least=least,
                most=most,
            )
        )


def _check_choice(value: object, what: Text, choices: Mapping[str, str]) -> None:
    if value is not None and (not isinstance(value, str) or value not in choices):
        raise CorrectionError(
            say(
                "{what} is one of: {choices}.",
                what=what,
                choices=joined([say(name) for name in choices.values()]),
            )
        )


def _followed(one: Text, other: Text) -> Text:
    return say("{one}; {other}", one=one, other=other)
