"""Forms for the first look: cranking by ear, codes, freeze frames, misfire counts."""

from collections.abc import Collection
from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.codes import code_exact
from jobs.core.misfires import CountsError, check_cylinders, counts_read
from jobs.models import Triage
from jobs.services.triage import MAX_TEXT, TRIAGE_FIELDS
from shopdiag.people.asking_back import AsksBack
from shopdiag.people.number_field import NumberField
from shopdiag.people.versioned import VersionedForm

LEAST_BATTERY_V = 3
"""A battery of 6 V that is dead still shows more; 1.26 is mostly 12.6."""
MAX_BATTERY_V = 60


class TriageForm(VersionedForm):
    """How it cranks by ear, and whether the complaint could be seen."""

    class Meta:
        model = Triage
        fields = TRIAGE_FIELDS
        field_classes = {"battery_v": NumberField}
        widgets = {
            "verified": forms.RadioSelect,
            "cranks": forms.RadioSelect,
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
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        battery = self.fields["battery_v"]
        battery.label = gettext("Battery at rest")
        battery.unit = "V"  # type: ignore[attr-defined]

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
