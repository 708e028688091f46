"""Forms for notes and photos."""

from typing import Any
from uuid import uuid4

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.template.defaultfilters import filesizeformat

from jobs.services.visits import LONGEST_REASON
from shopdiag.people.asking_back import AsksBack


class NoteForm(AsksBack, forms.Form):
    """A note; it is added and never changed."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    text = forms.CharField(
        label="Note",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Write the note first."},
    )


class PhotoForm(forms.Form):
    """A picture; place and device are taken out of it."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    image = forms.FileField(
        label="Picture",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        help_text="JPEG, PNG or WebP. Place and device are taken out before it is kept.",
        error_messages={
            "required": "Choose a picture first.",
            "empty": "This file is empty; choose another.",
        },
    )
    caption = forms.CharField(label="What it shows", max_length=200, required=False)

    def clean_image(self) -> "UploadedFile[Any]":
        """Refuse what is larger than the shop lets in."""
        file: UploadedFile[Any] = self.cleaned_data["image"]
        limit = settings.PHOTO_LIMIT_MB * 1_000_000
        if file.size is not None and file.size > limit:
            raise forms.ValidationError(
                f"This picture has {filesizeformat(file.size)}; "
                f"send one of at most {settings.PHOTO_LIMIT_MB} MB."
            )
        return file


class PhotoRemoveForm(forms.Form):
    """Why a photo is removed."""

    reason = forms.CharField(
        label="Why",
        max_length=LONGEST_REASON,
        help_text="Stands in the history with your name.",
        error_messages={"required": "Say why the photo is removed."},
    )
