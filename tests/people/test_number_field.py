"""Numbers as people type them: comma or point, and never a guess between two readings."""

import importlib
import pkgutil

import pytest
from django import forms
from django.core.exceptions import ValidationError

import jobs.forms
from shopdiag.people.number_field import NumberField

FORMS = [
    "shopdiag.people.forms",
    "traces.forms.setup",
    "traces.forms.file_reading",
    "traces.forms.manual_edits",
    "traces.forms.setup_fields",
    *(f"jobs.forms.{module.name}" for module in pkgutil.iter_modules(jobs.forms.__path__)),
]


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("9,8", 9.8),
        ("9.8", 9.8),
        (" 12,45 ", 12.45),
        ("-84,5", -84.5),
        ("\u2212330", -330.0),
        ("1210", 1210.0),
        ("0,500", 0.5),
        ("12,4567", 12.4567),
        ("", None),
    ],
)
def test_a_comma_is_a_decimal_comma(typed, value):
    assert NumberField(required=False).clean(typed) == value


@pytest.mark.parametrize("typed", ["1,210", "-1,210", "120,000"])
def test_what_may_be_read_as_two_numbers_is_asked_back(typed):
    with pytest.raises(ValidationError) as refused:
        NumberField().clean(typed)
    assert refused.value.code == "ambiguous"


@pytest.mark.parametrize("typed", ["1.234,5", "1,234.5", "9,8,7", "twelve", "nan", "inf", "1e999"])
def test_what_is_no_number_is_refused(typed):
    with pytest.raises(ValidationError):
        NumberField().clean(typed)


def test_limits_hold_for_what_was_typed_with_a_comma():
    with pytest.raises(ValidationError):
        NumberField(max_value=100).clean("100,5")


def test_the_browser_is_given_a_text_field_with_a_decimal_keypad():
    html = NumberField(min_value=0).widget.render("x", None)
    assert 'type="text"' in html
    assert 'inputmode="decimal"' in html


@pytest.mark.parametrize("module", FORMS)
def test_no_form_asks_for_a_decimal_in_a_browsers_number_field(module):
    """There a decimal comma is dropped, and 9,8 bar become 98."""
    found = [
        (form.__name__, name)
        for form in vars(importlib.import_module(module)).values()
        if isinstance(form, type) and issubclass(form, forms.BaseForm)
        for name, field in getattr(form, "base_fields", {}).items()
        if isinstance(field, forms.FloatField)
        and (not isinstance(field, NumberField) or isinstance(field.widget, forms.NumberInput))
    ]
    assert found == []


@pytest.mark.parametrize(("value", "limit"), [("0", "1"), ("12000", "10000")])
def test_what_is_too_small_or_too_large_is_said_in_plain_words(value, limit):
    field = forms.IntegerField(min_value=1, max_value=10_000)
    with pytest.raises(ValidationError) as error:
        field.clean(value)
    assert error.value.messages[0].startswith("It m")
    assert limit in error.value.messages[0]
