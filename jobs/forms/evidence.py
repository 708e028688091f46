"""Forms for captures of a visit and for signing a verdict."""

from collections.abc import Collection, Sequence
from typing import Any, cast
from uuid import UUID, uuid4

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.groups import GROUP_LABELS, FaultGroup
from jobs.core.request import named
from jobs.models import Judgement, VisitCapture
from shopdiag.people.asking_back import AsksBack
from shopdiag.people.models import Member
from traces.selectors.uploads import NotWholeError, whole_uploads

MOST_FILES = 20
_ALL = "all"
_ASK_FOUND = _("Say whether a compression fault was found, or that it is not settled.")
_GROUPS = [
    (group.value, _(GROUP_LABELS[group]))
    for group in FaultGroup
    if group is not FaultGroup.COMPRESSION
]


class ManyFilesInput(forms.ClearableFileInput):
    """A file input that takes several files."""

    allow_multiple_selected = True


class ManyFilesField(forms.FileField):
    """Several files; what is wrong with one of them is the service's to say."""

    widget = ManyFilesInput

    def clean(
        self,
        data: Any,  # noqa: ANN401 - what the widget gives
        initial: Any = None,  # noqa: ANN401, ARG002 - Django's signature
    ) -> "list[UploadedFile[Any]]":
        return [one for one in (data if isinstance(data, list | tuple) else [data]) if one]


class ManyTokens(forms.TypedMultipleChoiceField):
    """Tokens of uploads, any number of them."""

    widget = forms.MultipleHiddenInput

    def valid_value(self, value: Any) -> bool:  # noqa: ANN401, ARG002 - Django's signature
        return True


PURPOSES = [(purpose.value, purpose.label) for purpose in VisitCapture.CRANKED]
"""Whether the engine idles in it follows from the set-up."""


class CaptureUploadForm(forms.Form):
    """Recordings for a visit: files that come with the form, or uploads from before it.

    Either way `cleaned_data["recordings"]` holds the uploads.
    """

    recordings = ManyFilesField(label=_("Recordings of the cranking current"), required=False)
    arrived = ManyTokens(
        coerce=UUID,
        required=False,
        error_messages={"invalid_choice": _("This names no upload; choose the file again.")},
    )
    purpose = forms.ChoiceField(choices=PURPOSES)
    batch = forms.UUIDField(required=False)
    keep_duplicate = forms.BooleanField(required=False)

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **kwargs)
        self._member = member

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if "recordings" not in data or "arrived" not in data:
            return data
        uploads = list(data["recordings"])
        try:
            uploads += whole_uploads(self._member, data["arrived"])
        except NotWholeError as missing:
            self.add_error("arrived", str(missing))
            return data
        if not uploads:
            self.add_error("recordings", gettext("Choose at least one recording first."))
        elif len(uploads) > MOST_FILES:
            self.add_error(
                "recordings",
                gettext("These are %(count)s files; send at most %(most_files)s at once.")
                % {"count": len(uploads), "most_files": MOST_FILES},
            )
        else:
            data["recordings"] = uploads
        return data


def _set_value(cylinders: Collection[int]) -> str:
    return ",".join(str(c) for c in sorted(cylinders))


def candidate_choices(candidates: Sequence[Collection[int]]) -> list[tuple[str, str]]:
    """Return the sets that fit as choices, and all of them together where there are several."""
    sets = [tuple(sorted(c)) for c in candidates]
    choices = [
        (_set_value(c), named(c).capitalize() if c else gettext("No cylinder is low")) for c in sets
    ]
    everything = sorted({c for one in sets for c in one})
    if len(sets) > 1 and tuple(everything) not in sets:
        choices.append(
            (
                _ALL,
                gettext("All of them (%(str)s): the gauge decides")
                % {"str": ", ".join(map(str, everything))},
            )
        )
    return choices


class SameSetupForm(forms.Form):
    """Take over the set-up of another file of the same upload."""

    form_token = forms.UUIDField()
    like = forms.IntegerField(min_value=1, max_value=2**63 - 1)


class AsideForm(AsksBack, forms.Form):
    """Set a capture aside with a reason, or, with the box ticked, take it in again."""

    again = forms.BooleanField(required=False, widget=forms.HiddenInput)
    why = forms.CharField(label=_("Why it shall not count"), max_length=300, required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("again"):
            data["why"] = ""
        elif "why" not in self.errors and not data.get("why", "").strip():
            self.add_error(
                "why", gettext("Say why the capture shall not count: other gear, wrong clamp?")
            )
        return data


class PurposeForm(AsksBack, forms.Form):
    """Say whether a capture was made for the diagnosis or after the repair."""

    purpose = forms.ChoiceField(
        choices=PURPOSES,
        error_messages={"required": _("Say whether it was made before or after the repair.")},
    )
    reason = forms.CharField(
        label=_("Why it counts for the diagnosis"),
        required=False,
        max_length=200,
        help_text=_("Needed once the repair is said to hold."),
    )


class AcceptForm(AsksBack, forms.Form):
    """Sign a run's verdict as it is; where several sets fit, the person picks one."""

    kind = forms.CharField(widget=forms.HiddenInput, initial=Judgement.Kind.ACCEPTED.value)
    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    run = forms.IntegerField(widget=forms.HiddenInput)
    chosen = forms.ChoiceField(
        label=_("Which cylinders"),
        widget=forms.RadioSelect,
        error_messages={"required": _("Pick the set of cylinders that you sign for.")},
    )
    mechanical = forms.ChoiceField(
        label=_("What was found?"),
        choices=Judgement.Mechanical.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _ASK_FOUND},
    )
    fault_group = forms.ChoiceField(
        label=_("If no compression fault was found: where does the fault lie?"),
        choices=_GROUPS,
        required=False,
        widget=forms.RadioSelect,
    )
    misfiring = forms.TypedMultipleChoiceField(
        label=_("Which cylinder misfires, if it is known"),
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    reason = forms.CharField(
        label=_("In your own words"),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        run_id: int,
        candidates: Sequence[Collection[int]],
        engine_cylinders: Sequence[int] = (),
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        super().__init__(*args, **kwargs)
        choices = candidate_choices(candidates)
        self._everything = sorted({c for one in candidates for c in one})
        self.fields["run"].initial = run_id
        if self._everything:
            del self.fields["fault_group"], self.fields["misfiring"]
        else:
            misfiring = cast("forms.TypedMultipleChoiceField", self.fields["misfiring"])
            misfiring.choices = [(c, str(c)) for c in sorted(engine_cylinders)]
        field = cast("forms.ChoiceField", self.fields["chosen"])
        field.choices = choices
        if len(choices) == 1:
            field.initial = choices[0][0]
            field.widget = forms.HiddenInput()
            if choices[0][0]:
                self.fields["mechanical"].initial = Judgement.Mechanical.YES.value
            else:
                field.required = False
        else:
            self.fields["reason"].help_text = gettext(
                "If you pick one set: what points at it "
                "(misfire counts, a second sync, a plug taken out)?"
            )
            self.fields["mechanical"].initial = Judgement.Mechanical.YES.value

    @property
    def cylinders(self) -> list[int]:
        """The cylinders signed for."""
        chosen: str = self.cleaned_data["chosen"]
        if chosen == _ALL:
            return self._everything
        misfiring: list[int] = self.cleaned_data.get("misfiring", [])
        return [int(c) for c in chosen.split(",") if c] or misfiring


class OwnVerdictForm(AsksBack, forms.Form):
    """Overrule a verdict, or decide without a capture; the reason is the record."""

    kind = forms.CharField(widget=forms.HiddenInput)
    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    run = forms.IntegerField(widget=forms.HiddenInput, required=False)
    mechanical = forms.ChoiceField(
        label=_("What was found?"),
        choices=Judgement.Mechanical.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _ASK_FOUND},
    )
    fault_group = forms.ChoiceField(
        label=_("If no compression fault was found: where does the fault lie?"),
        choices=_GROUPS,
        required=False,
        widget=forms.RadioSelect,
    )
    chosen = forms.TypedMultipleChoiceField(
        label=_("Suspect cylinders"),
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("None, if no cylinder is suspect."),
    )
    reason = forms.CharField(
        label=_("In your own words: what did you see, hear or measure?"),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={
            "required": _("Write the reason first; it is the record of your decision.")
        },
    )

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        cylinders: Sequence[int],
        run_id: int | None = None,
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        # Names of its own: the form that accepts stands on the same page.
        kwargs.setdefault("auto_id", "id_own_%s")
        super().__init__(*args, **kwargs)
        self.fields["kind"].initial = (
            Judgement.Kind.WITHOUT_RUN if run_id is None else Judgement.Kind.OVERRULED
        ).value
        self.fields["run"].initial = run_id
        field = cast("forms.TypedMultipleChoiceField", self.fields["chosen"])
        field.choices = [(c, str(c)) for c in sorted(cylinders)]
        if run_id is None:
            self.fields["reason"].label = gettext(
                "In your own words: what did you decide, and why?"
            )

    @property
    def cylinders(self) -> list[int]:
        """The cylinders named as suspect."""
        chosen: list[int] = self.cleaned_data["chosen"]
        return chosen
