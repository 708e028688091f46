"""Forms for the first look: cranking by ear, codes, freeze frames, misfire counts."""

from collections.abc import Collection
from datetime import date
from typing import Any
from uuid import uuid4

from django import forms
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from engines.core.mounting import DIRECTION_WORDS, SIDE_WORDS
from jobs.core.codes import code_exact
from jobs.core.misfires import CountsError, check_cylinders, counts_read
from jobs.core.triage_questions import Questions
from jobs.models import Triage, Visit
from jobs.selectors.captures import fuel_known
from jobs.services.triage import MAX_TEXT, TRIAGE_FIELDS
from shopdiag.people.asking_back import AsksBack
from shopdiag.people.number_field import NumberField
from shopdiag.people.versioned import VersionedForm

LEAST_BATTERY_V = 3
"""A battery of 6 V that is dead still shows more; 1.26 is mostly 12.6."""
MAX_BATTERY_V = 60
MAX_ODOMETER = 3_000_000
_DISTANCES = ("plugs_age", "timing_work_odometer", "fuel_work_odometer")
_FIRST = ("verified", "cranks", "battery_v")


class TriageForm(VersionedForm):
    """How it cranks by ear, whether the complaint could be seen, oil, coolant, recent work.

    `questions` orders the page; without them every field is there, as for programs.
    """

    class Meta:
        model = Triage
        fields = TRIAGE_FIELDS
        field_classes = {"battery_v": NumberField}
        widgets = {
            **dict.fromkeys(
                (
                    "verified",
                    "cranks",
                    "oil_level",
                    "oil_loss",
                    "fuel_in_oil",
                    "coolant_level",
                    "coolant_loss",
                ),
                forms.RadioSelect,
            ),
            **dict.fromkeys(
                ("timing_work_on", "fuel_work_on"),
                forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            ),
            "remarks": forms.Textarea(attrs={"rows": 3}),
            "battery_v": NumberField.widget,
        }
        help_texts = {
            "cranks": _(
                "Listen with the fuel disabled as the manufacturer specifies, so that it "
                "cannot start."
            ),
            "battery_v": _(
                "With everything off. After a charge or a drive it reads too high for "
                "hours, or until a load was on."
            ),
            "oil_level": _("Read the dipstick before the first crank."),
            "fuel_in_oil": _("Smell the dipstick; thin oil runs off it at once."),
            "coolant_level": _("Look at the cold tank; never open a hot system."),
            "plugs_age": _("How far they have run since they were new."),
            "timing_work": _("Belt, chain, phaser or cam: what was done."),
            "fuel_work": _("Injectors, pump, filter, rail or wrong fuel: what was done."),
            "direction": _("The front end is the end opposite the flywheel."),
            "bank_a_side": _("Bank A as on the drawing of this engine."),
        }

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        visit: Visit,
        questions: Questions | None = None,
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        super().__init__(*args, **kwargs)
        self.visit = visit
        self.questions = questions
        battery = self.fields["battery_v"]
        battery.label = gettext("Battery at rest")
        battery.unit = "V"  # type: ignore[attr-defined]
        for name in _DISTANCES:
            self.fields[name].unit = visit.shop.distance_unit  # type: ignore[attr-defined]
            self.fields[name].widget.attrs["inputmode"] = "numeric"
        for name, choices in (("direction", DIRECTION_WORDS), ("bank_a_side", SIDE_WORDS)):
            sits = self.fields[name]
            if isinstance(sits, forms.ChoiceField):
                words = [(one.value, gettext(said)) for one, said in choices.items()]
                sits.choices = [("", gettext("Not noted")), *words]
        for name in questions.left_out if questions else ():
            if not getattr(self.instance, name):
                del self.fields[name]

    @property
    def first(self) -> list[forms.BoundField]:
        """What every job is asked."""
        return [self[name] for name in _FIRST]

    @property
    def asked(self) -> list[forms.BoundField]:
        """What this job is asked at once, and what was answered on it."""
        return self._of(shown=True)

    @property
    def folded(self) -> list[forms.BoundField]:
        """What is asked of this job only where somebody wants it."""
        return self._of(shown=False)

    def _of(self, *, shown: bool) -> list[forms.BoundField]:
        if self.questions is None:
            return []
        at_once = set(self.questions.asked) | {
            name for name in self.fields if getattr(self.instance, name, "") or name in self.errors
        }
        order = (*self.questions.asked, *self.questions.folded, *self.questions.left_out)
        return [self[n] for n in order if n in self.fields and (n in at_once) == shown]

    def again(self, data: Any, current: Any) -> "TriageForm":  # noqa: ANN401 - as in the base
        """Make the same form anew for the same visit."""
        return TriageForm(
            data,
            instance=current,
            prefix=self.prefix,
            visit=self.visit,
            questions=self.questions,
        )

    def clean_battery_v(self) -> float | None:
        """Refuse a voltage that no vehicle's battery has."""
        voltage: float | None = self.cleaned_data["battery_v"]
        if voltage is not None and not LEAST_BATTERY_V <= voltage <= MAX_BATTERY_V:
            raise forms.ValidationError(
                gettext(
                    "Type the battery's voltage from %(least_battery_v)s to %(max_battery_v)s "
                    "V, or leave it empty and say under remarks what was read."
                )
                % {"least_battery_v": LEAST_BATTERY_V, "max_battery_v": MAX_BATTERY_V}
            )
        return voltage

    def clean_plugs_age(self) -> int | None:
        """Refuse plugs on a diesel, and plugs that have run further than the vehicle."""
        age: int | None = self.cleaned_data["plugs_age"]
        if age is None or age == self.instance.plugs_age:
            return age
        if fuel_known(self.visit, None) == "diesel":
            raise forms.ValidationError(
                gettext("A diesel has no spark plugs; leave this empty or correct the fuel.")
            )
        return self._within_odometer(age)

    def clean_timing_work_odometer(self) -> int | None:
        """Refuse a reading above today's."""
        return self._within_odometer(self.cleaned_data["timing_work_odometer"])

    def clean_fuel_work_odometer(self) -> int | None:
        """Refuse a reading above today's."""
        return self._within_odometer(self.cleaned_data["fuel_work_odometer"])

    def clean_timing_work_on(self) -> date | None:
        """Refuse a day that is still to come."""
        return _past(self.cleaned_data["timing_work_on"])

    def clean_fuel_work_on(self) -> date | None:
        """Refuse a day that is still to come."""
        return _past(self.cleaned_data["fuel_work_on"])

    def clean(self) -> dict[str, Any] | None:
        """Ask what was done where only its odometer or day was typed."""
        cleaned: dict[str, Any] | None = super().clean()
        for job in ("timing_work", "fuel_work"):
            told = [self.cleaned_data.get(f"{job}_{part}") for part in ("odometer", "on")]
            if any(value is not None for value in told) and not self.cleaned_data.get(job):
                self.add_error(job, gettext("Say what was done as well."))
        return cleaned

    def _within_odometer(self, distance: int | None) -> int | None:
        most = self.visit.odometer
        if distance is not None and distance > (MAX_ODOMETER if most is None else most):
            raise forms.ValidationError(
                gettext("This is more than the odometer reads now (%(most)s): check both.")
                % {"most": MAX_ODOMETER if most is None else most}
            )
        return distance


def _past(day: date | None) -> date | None:
    if day is not None and day > timezone.localdate():
        raise forms.ValidationError(
            gettext("This day is still to come; type the day of the job, or leave it empty.")
        )
    return day


class CodesForm(forms.Form):
    """Codes as they come out of whatever read them."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4, required=False)
    text = forms.CharField(
        label=_("Codes, as text"),
        max_length=MAX_TEXT,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false", "autocapitalize": "none"}),
        help_text=_(
            "Paste or type freely: one or many, with descriptions, headings and status "
            "words. The text is kept as it is."
        ),
        error_messages={"required": _("Paste or type the codes first.")},
    )

    def clean_text(self) -> str:
        """Refuse a text of blanks."""
        text: str = self.cleaned_data["text"].replace("\r\n", "\n")
        if not text.strip():
            raise forms.ValidationError(gettext("Paste or type the codes first."))
        return text


class FreezeFrameForm(forms.Form):
    """Values of a freeze frame, one on each line."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4, required=False)
    replaces = forms.IntegerField(widget=forms.HiddenInput, required=False)
    code = forms.CharField(label=_("For code"), max_length=10, required=False)
    text = forms.CharField(
        label=_("Values"),
        max_length=MAX_TEXT,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
        help_text=_("One on each line: name, value, unit. For example “Engine speed 1726 rpm”."),
        error_messages={"required": _("Paste the values first, one on each line.")},
    )

    def clean_code(self) -> str:
        """Bring the code into its usual form."""
        typed: str = self.cleaned_data["code"]
        code = code_exact(typed) if typed else ""
        if code is None:
            raise forms.ValidationError(
                gettext("This is no trouble code; type one like P0301, or leave it empty.")
            )
        return code


class MisfiresForm(AsksBack, forms.Form):
    """Misfires counted per cylinder; `cylinders` are those of the engine, None if not known."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4, required=False)
    replaces = forms.IntegerField(widget=forms.HiddenInput, required=False)
    counts = forms.CharField(
        label=_("Counts by cylinder"),
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 2, "spellcheck": "false"}),
        help_text=_("As “1: 0, 2: 143, 3: 2, 4: 0”, or only the counts in cylinder order."),
        error_messages={"required": _("Type the counts as “1: 0, 2: 143”.")},
    )
    period = forms.CharField(
        label=_("Counted over"),
        max_length=80,
        required=False,
        help_text=_("For example “ten cycles” or “since the codes were cleared”."),
    )

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        cylinders: Collection[int] | None = None,
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        super().__init__(*args, **kwargs)
        self._cylinders = cylinders

    def clean_counts(self) -> dict[int, int]:
        """Read the counts by cylinder number; a number the engine does not have is refused."""
        try:
            counts = counts_read(self.cleaned_data["counts"])
            check_cylinders(counts, self._cylinders)
        except CountsError as error:
            raise forms.ValidationError(str(error)) from None
        return counts
