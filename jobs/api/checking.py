"""Holding what a program sends against the pages' own forms: one set of rules, one wording."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.db.models import Model
from django.forms.models import model_to_dict
from rest_framework.exceptions import ValidationError
from rest_framework.settings import api_settings


def check(form: forms.BaseForm) -> None:
    """Refuse what the page would refuse, in the page's words."""
    if not form.is_valid():
        raise ValidationError(sentences(form))


def sentences(form: forms.BaseForm) -> dict[str, list[str]]:
    """Return a form's errors by field, those of no field under the API's name for them."""
    return {
        api_settings.NON_FIELD_ERRORS_KEY if name == "__all__" else name: [str(e) for e in errors]
        for name, errors in form.errors.items()
    }


def merged(row: Model, fields: Iterable[str], sent: dict[str, Any]) -> dict[str, Any]:
    """Return a form's data: what stands in `row`, and over it what was sent."""
    return {**model_to_dict(row, fields=list(fields)), **plain(sent)}


def plain(sent: dict[str, Any], prefix: str = "") -> dict[str, Any]:
    """Return values as a browser would send them: a row by its number."""
    lead = f"{prefix}-" if prefix else ""
    return {
        f"{lead}{name}": value.pk if isinstance(value, Model) else value
        for name, value in sent.items()
    }
