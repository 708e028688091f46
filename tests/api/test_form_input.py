"""Inputs derived from forms: what a form asks, limits and offers, a program may send."""

from typing import Any

import pytest
from django import forms
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from jobs.api.form_input import FormInput
from shopdiag.people.asking_back import AsksBack
from shopdiag.people.number_field import NumberField


class _Form(AsksBack, forms.Form):
    form_token = forms.UUIDField()
    name = forms.CharField(max_length=5)
    note = forms.CharField(required=False, max_length=9, strip=False)
    kind = forms.ChoiceField(choices=[("a", "A"), ("b", "B")], required=False)
    minutes = forms.IntegerField(required=False, min_value=1, max_value=60)
    kpa = NumberField(required=False)
    is_stop = forms.BooleanField(required=False)
    page = forms.IntegerField(required=False)

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if name == "no":
            raise forms.ValidationError("Not this one.", code="refused")
        return name


class _Input(FormInput[_Form]):
    form_class = _Form
    left_out = ("page",)


def _read(**sent: Any) -> _Input:
    asked = _Input(data=sent)
    asked.is_valid(raise_exception=True)
    return asked


def test_fields_are_those_of_the_form_but_what_is_left_out():
    assert set(_Input().fields) == {*_Form.base_fields, "confirmed"} - {"page"}


def test_what_is_not_sent_is_nothing_of_its_kind():
    assert _read(name="x").validated_data == {
        "form_token": None,
        "name": "x",
        "note": "",
        "kind": "",
        "minutes": None,
        "kpa": None,
        "is_stop": False,
        "confirmed": False,
    }


@pytest.mark.parametrize(
    ("sent", "code"),
    [
        ({}, "required"),
        ({"name": "longer"}, "max_length"),
        ({"name": "x", "minutes": 61}, "max_value"),
        ({"name": "x", "minutes": "soon"}, "invalid"),
        ({"name": "x", "kind": "c"}, "invalid_choice"),
        ({"name": "x", "page": 3}, "invalid"),
        ({"name": "x", "form_token": "one"}, "invalid"),
    ],
)
def test_what_the_form_cannot_hold_is_refused_by_field(sent: dict[str, Any], code: str):
    with pytest.raises(ValidationError) as refused:
        _read(**sent)
    codes: Any = refused.value.get_codes()
    assert list(codes.values()) == [[code]]


def test_the_forms_own_rules_hold_and_its_words_come_back():
    with pytest.raises(ValidationError) as refused:
        _read(name="no").form()
    assert refused.value.detail == {"name": ["Not this one."]}


def test_a_token_is_the_senders_own_or_none():
    token = "3b2b0c3e-3f6d-4f5e-9d0a-3d5f0c8f1a11"
    assert str(_read(name="x", form_token=token).form().cleaned_data["form_token"]) == token
    assert _read(name="x").form().cleaned_data["form_token"] is None


def test_a_field_without_a_counterpart_has_to_be_declared():
    class WithFile(forms.Form):
        file = forms.FileField()

    class Sent(FormInput[WithFile]):
        form_class = WithFile

    class Declared(Sent):
        file = serializers.CharField()

    with pytest.raises(TypeError):
        _ = Sent().fields
    assert set(Declared().fields) == {"file"}
