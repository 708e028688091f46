"""Forms for notes, photos and closing."""

from typing import Any
from uuid import uuid4

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.template.defaultfilters import filesizeformat
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.services.visits import LONGEST_REASON
from shopdiag.people.asking_back import CONFIRMED, AsksBack


class NoteForm(AsksBack, forms.Form):
    """A note; it is added and never changed."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    text = forms.CharField(
        label=_("Note"),
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": _("Write the note first.")},
    )


class PhotoForm(forms.Form):
    """A picture; place and device are taken out of it."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    image = forms.FileField(
        label=_("Picture"),
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        help_text=_("JPEG, PNG or WebP. Place and device are taken out before it is kept."),
        error_messages={
            "required": _("Choose a picture first."),
            "empty": _("This file is empty; choose another."),
        },
    )
    caption = forms.CharField(label=_("What it shows"), max_length=200, required=False)

    def clean_image(self) -> "UploadedFile[Any]":
        """Refuse what is larger than the shop lets in."""
        file: UploadedFile[Any] = self.cleaned_data["image"]
        limit = settings.PHOTO_LIMIT_MB * 1_000_000
        if file.size is not None and file.size > limit:
            raise forms.ValidationError(
                gettext(
                    "This picture has %(filesizeformat)s; send one of at most "
                    "%(photo_limit_mb)s MB."
                )
                % {
                    "filesizeformat": filesizeformat(file.size),
                    "photo_limit_mb": settings.PHOTO_LIMIT_MB,
                }
            )
        return file


class PhotoRemoveForm(forms.Form):
    """Why a photo is removed."""

    reason = forms.CharField(
        label=_("Why"),
        max_length=LONGEST_REASON,
        help_text=_("Stands in the history with your name."),
        error_messages={"required": _("Say why the photo is removed.")},
    )


class CloseForm(AsksBack, forms.Form):
    """The tick for closing a job whose customer copy is not complete."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        self.fields[CONFIRMED].label = _("Close it all the same")
