"""What a file was understood to be, in words and figures for its page."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from shopdiag.people.core.numerals import written
from shopdiag.people.core.words import Text
from traces.core.readers import BY_HAND, DECIMALS, DELIMITERS, TIME_UNITS

_BY_HAND = BY_HAND.message.split("{")[0]
"""How such a note begins, also where an earlier version stored it as it was told."""


@dataclass(frozen=True, slots=True)
class ShownChannel:
    """One channel in a row of the table."""

    name: str
    unit: str
    minimum: str
    maximum: str
    missing: int


@dataclass(frozen=True, slots=True)
class ShownRow:
    """One of the file's first rows: its time, and the channels' values."""

    time: str
    named: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Understood:
    """The published form of what a file was understood to be, ready for a template.

    Parameters
    ----------
    data
        As `traces.core.readers.inspecting` wrote it; files of earlier versions have no `preview`.
    """

    data: dict[str, Any]

    @property
    def channels(self) -> tuple[ShownChannel, ...]:
        """The channels with unit and extremes."""
        shares = bool(self.data.get("full_scale"))
        return tuple(
            ShownChannel(
                name=one["name"],
                unit=one["unit"] or (_("of full scale") if shares else _("no unit")),
                minimum=_figure(one["minimum"]),
                maximum=_figure(one["maximum"]),
                missing=one["missing"],
            )
            for one in self.data.get("channels", [])
        )

    @property
    def rate(self) -> str:
        """Sample rate; "" where it is not known."""
        rate_hz = self.data.get("rate_hz")
        return written(f"{rate_hz:.10g} Hz") if rate_hz else ""

    @property
    def length(self) -> str:
        """Length in seconds; "" where the rate is not known."""
        rate_hz = self.data.get("rate_hz")
        return written(f"{self.data['samples'] / rate_hz:.6g} s") if rate_hz else ""

    @property
    def start(self) -> str:
        """Time of the first sample."""
        return written(f"{self.data.get('start_s') or 0.0:.9g} s")

    @property
    def rows(self) -> tuple[ShownRow, ...]:
        """The first rows as they were understood, each value with its channel's name."""
        names = [one["name"] for one in self.data.get("channels", [])]
        return tuple(
            ShownRow(
                "–" if row["time_s"] is None else written(f"{row['time_s']:.9g}"),
                tuple(zip(names, map(_figure, row["values"]), strict=True)),
            )
            for row in self._preview.get("rows", [])
        )

    @property
    def found(self) -> list[dict[str, Any]]:
        """Name and unit of each channel as the file has it, before any correction of it."""
        listed: list[dict[str, Any]] = self._preview.get("channels") or self.data.get(
            "channels", []
        )
        return listed

    @property
    def text(self) -> dict[str, Any] | None:
        """How a text was taken apart; None for other files."""
        about: dict[str, Any] | None = self._preview.get("text")
        return about

    @property
    def lines(self) -> list[dict[str, Any]]:
        """A text's first lines as they stand."""
        return [
            # a tab is a delimiter like others and has to be seen
            one | {"text": one["text"].replace("\t", "⇥ ")}
            for one in (self.text or {}).get("lines", [])
        ]

    @property
    def layout(self) -> str:
        """How a text was taken apart, as one line; "" for other files."""
        if not self.text or not self.text["delimiter"]:
            return ""
        said = [
            _("columns parted by %(delimiters)s")
            % {"delimiters": _(DELIMITERS[self.text["delimiter"]])},
            _("decimal %(decimals)s") % {"decimals": _(DECIMALS[self.text["decimal"]])},
        ]
        heading = self.text["heading_line"]
        said.append(
            _("headings in line %(heading)s") % {"heading": heading}
            if heading
            else _("no headings")
        )
        said.append(
            _("numbers from line %(first_row_line)s")
            % {"first_row_line": self.text["first_row_line"]}
        )
        if column := self.text["time_column"]:
            unit = _("seconds, as no unit is given")
            if self.text["time_unit"] in TIME_UNITS:
                unit = _(TIME_UNITS[self.text["time_unit"]])
            said.append(
                _("times in column %(column)s in %(unit)s") % {"column": column, "unit": unit}
            )
        else:
            said.append(_("no column of times"))
        return "; ".join(said)

    @property
    def notes(self) -> list[str]:
        """What was assumed or repaired; what a person said stands elsewhere, with a name."""
        notes = map(Text.from_json, self.data.get("notes", []))
        return [str(note) for note in notes if note.message[: len(_BY_HAND)] != _BY_HAND]

    @property
    def _preview(self) -> dict[str, Any]:
        return self.data.get("preview") or {}


def _figure(value: float | None) -> str:
    # Adding zero takes the sign from a zero.
    return "–" if value is None else written(f"{value + 0.0:.6g}")
