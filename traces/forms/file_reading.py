"""What a person says about a file that was understood wrongly."""

from typing import TYPE_CHECKING, Any
from uuid import uuid4

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopdiag.people.number_field import NumberField
from traces.core.readers import (
    DECIMALS,
    DELIMITERS,
    LONGEST_NAME,
    LONGEST_UNIT,
    MOST_COLUMN,
    MOST_LINE,
    TIME_UNITS,
    ChannelCorrection,
    Correction,
    CorrectionError,
    TextCorrection,
)
from traces.selectors.file_words import Understood

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

NO_UNIT = "none"
_SIGNS = {word: sign for sign, word in DELIMITERS.items()}
_DECIMAL_SIGNS = {word: sign for sign, word in DECIMALS.items()}
_A_NUMBER = gettext_lazy("Type a number, like 0.001.")
_TEXT_FIELDS = (
    "delimiter",
    "decimal",
    "heading_line",
    "first_row_line",
    "time_column",
    "time_unit",
)


def _line_field(
    label: "StrOrPromise", least: int, most: int, help_text: "StrOrPromise"
) -> forms.IntegerField:
    sentence = format_lazy(
        gettext_lazy("Type a whole number from {least} to {most}."), least=least, most=most
    )
    return forms.IntegerField(
        label=label,
        required=False,
        min_value=least,
        max_value=most,
        help_text=help_text,
        error_messages={"invalid": sentence, "min_value": sentence, "max_value": sentence},
    )


class FileForm(forms.Form):
    """A file's correction; whatever is left blank stays as it was found.

    Parameters
    ----------
    understood
        What the file is taken for now; None where it could not be read.
    is_text
        Whether it may be text with columns.
    correction
        What was said last.
    """

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4, required=False)
    rate_hz = NumberField(
        label=gettext_lazy("Sample rate"),
        required=False,
        error_messages={
            "invalid": gettext_lazy("Type the sample rate as a number of hertz, like 2000.")
        },
    )
    start_s = NumberField(
        label=gettext_lazy("Start"),
        required=False,
        error_messages={
            "invalid": gettext_lazy("Type the time of the first sample in seconds, like -0.5.")
        },
    )
    delimiter = forms.ChoiceField(label=gettext_lazy("Between columns"), required=False)
    decimal = forms.ChoiceField(label=gettext_lazy("Decimal sign"), required=False)
    heading_line = _line_field(
        gettext_lazy("Line of the headings"), 0, MOST_LINE, gettext_lazy("0 where there are none.")
    )
    first_row_line = _line_field(gettext_lazy("First line of numbers"), 1, MOST_LINE, "")
    time_column = _line_field(
        gettext_lazy("Column of the times"),
        0,
        MOST_COLUMN,
        gettext_lazy("Counted from 1; 0 where there are no times."),
    )
    time_unit = forms.ChoiceField(label=gettext_lazy("Unit of the times"), required=False)

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        understood: Understood | None,
        is_text: bool,
        correction: Correction,
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        super().__init__(*args, **kwargs)
        self._given = Correction()
        self._found = understood.found if understood else []
        self.initial = {**_initial(correction), **self.initial}
        self.is_text = is_text
        if not is_text:
            for name in _TEXT_FIELDS:
                del self.fields[name]
        self._say_what_was_found(understood)
        said = [channel.number for channel in correction.channels]
        self.numbers = range(1, max([len(self._found), *said]) + 1)
        for number in self.numbers:
            self._add_channel(number)
        field: Any
        for field in self.fields.values():
            # All may be left blank, as the page says; none is called optional.
            field.at_times_needed = True
        for name, unit in (("rate_hz", "Hz"), ("start_s", "s")):
            field = self.fields[name]
            # The field's template shows it behind the box.
            field.unit = unit
            field.widget.attrs["step"] = "any"

    @property
    def given(self) -> Correction:
        """What a valid form says."""
        return self._given

    @property
    def channels(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Each channel's name as the file has it, and its fields."""
        return [
            (self._title(number), [self[f"{part}_{number}"] for part in _PARTS])
            for number in self.numbers
        ]

    def clean(self) -> dict[str, Any]:
        """Put the correction together; each contradiction stands at its field."""
        data = super().clean() or {}
        if self.errors:
            return data
        rates = {name: data.get(name) for name in ("rate_hz", "start_s")}
        for name, value in rates.items():
            self._try(Correction, name, {name: value})
        text = self._text(data) if self.is_text else TextCorrection()
        channels = tuple(self._channel(data, number) for number in self.numbers)
        if not self.errors:
            try:
                self._given = Correction(channels=channels, text=text, **rates)
            except CorrectionError as error:
                self.add_error(None, str(error))
        return data

    def _text(self, data: dict[str, Any]) -> TextCorrection:
        said: dict[str, Any] = {
            "delimiter": _SIGNS.get(data["delimiter"]),
            "decimal": _DECIMAL_SIGNS.get(data["decimal"]),
            "time_unit": data["time_unit"] or None,
        }
        said |= {name: data[name] for name in ("heading_line", "first_row_line", "time_column")}
        try:
            return TextCorrection(**said)
        except CorrectionError as error:
            unit = data["time_column"] == 0 and data["time_unit"]
            self.add_error("time_unit" if unit else "first_row_line", str(error))
            return TextCorrection()

    def _channel(self, data: dict[str, Any], number: int) -> ChannelCorrection:
        unit = data[f"unit_{number}"]
        factor = data[f"factor_{number}"]
        said = {
            "name": data[f"name_{number}"] or None,
            "unit": "" if unit.casefold() == NO_UNIT else unit or None,
            "factor": 1.0 if factor is None else factor,
            "left_out": data[f"left_out_{number}"],
        }
        good = [
            self._try(ChannelCorrection, f"{part}_{number}", {"number": number, part: value})
            for part, value in said.items()
        ]
        return ChannelCorrection(number, **said) if all(good) else ChannelCorrection(number)

    def _try(self, kind: type[Any], field: str, said: dict[str, Any]) -> bool:
        try:
            kind(**said)
        except CorrectionError as error:
            self.add_error(field, str(error))
            return False
        return True

    def _add_channel(self, number: int) -> None:
        self.fields[f"name_{number}"] = forms.CharField(
            label=_("Name of channel %(number)s") % {"number": number},
            required=False,
            max_length=LONGEST_NAME,
        )
        self.fields[f"unit_{number}"] = forms.CharField(
            label=_("Unit of channel %(number)s") % {"number": number},
            required=False,
            max_length=LONGEST_UNIT,
            help_text=_("Like V, mV or A; “%(no_unit)s” for none.") % {"no_unit": NO_UNIT},
        )
        self.fields[f"factor_{number}"] = NumberField(
            label=_("Factor of channel %(number)s") % {"number": number},
            required=False,
            help_text=_("0.001 where millivolts are to be volts."),
            error_messages={"invalid": _A_NUMBER},
        )
        self.fields[f"left_out_{number}"] = forms.BooleanField(
            label=_("Leave channel %(number)s out") % {"number": number}, required=False
        )

    def _title(self, number: int) -> str:
        if number > len(self._found):
            return _("Channel %(number)s") % {"number": number}
        one = self._found[number - 1]
        return _("Channel %(number)s: %(name)s") % {"number": number, "name": one["name"]} + (
            f" ({one['unit']})" if one["unit"] else ""
        )

    def _say_what_was_found(self, understood: Understood | None) -> None:
        """Say at each field what it is now, as far as the file was read."""
        text = (understood.text if understood else None) or {}
        rate = (understood.rate if understood else "") or _("not known")
        self.fields["rate_hz"].help_text = _(
            "Now: %(rate)s. It wins over the times of the file."
        ) % {"rate": rate}
        start = understood.start if understood else _("not known")
        self.fields["start_s"].help_text = _("Time of the first sample. Now: %(start)s.") % {
            "start": start
        }
        if not self.is_text:
            return
        self._choices("delimiter", _SIGNS, DELIMITERS.get(text.get("delimiter") or ""))
        self._choices("decimal", _DECIMAL_SIGNS, DECIMALS.get(text.get("decimal") or ""))
        units = {unit: f"{unit}, {_(word)}" for unit, word in TIME_UNITS.items()}
        self._choices("time_unit", units, TIME_UNITS.get(text.get("time_unit") or ""))
        if not text:
            return
        for name in ("heading_line", "first_row_line", "time_column"):
            field = self.fields[name]
            now = text[name] or _("none")
            if name == "time_column" and text[name]:
                title = text["columns"][text[name] - 1 : text[name]]
                now = f"{text[name]}, “{title[0]}”" if title and title[0] else text[name]
            as_found = _("Now: %(now)s.") % {"now": now}
            field.help_text = f"{field.help_text} {as_found}".strip()

    def _choices(self, name: str, choices: dict[str, str], now: str | None) -> None:
        field: Any = self.fields[name]
        first = _("As found: %(now)s") % {"now": _(now)} if now else _("To be found")
        words = [(word, _(word) if len(choices[word]) == 1 else choices[word]) for word in choices]
        field.choices = [("", first), *words]


_PARTS = ("name", "unit", "factor", "left_out")


def _initial(correction: Correction) -> dict[str, Any]:
    text = correction.text
    said: dict[str, Any] = {
        "rate_hz": correction.rate_hz,
        "start_s": correction.start_s,
        "delimiter": DELIMITERS.get(text.delimiter or "", ""),
        "decimal": DECIMALS.get(text.decimal or "", ""),
        "heading_line": text.heading_line,
        "first_row_line": text.first_row_line,
        "time_column": text.time_column,
        "time_unit": text.time_unit or "",
    }
    for channel in correction.channels:
        said |= {
            f"name_{channel.number}": channel.name,
            f"unit_{channel.number}": NO_UNIT if channel.unit == "" else channel.unit,
            f"factor_{channel.number}": None if channel.factor == 1.0 else channel.factor,
            f"left_out_{channel.number}": channel.left_out,
        }
    return said
