"""The tick under what was asked back, as a page draws it."""

from django import forms
from django.core.exceptions import ValidationError
from django.template import Context, Template

from shopdiag.people.asking_back import CONFIRMED, AsksBack

QUESTIONS = ("Were 1,234,000 km meant?", "Were hours meant?")


class AskingForm(AsksBack, forms.Form):
    figure = forms.IntegerField(required=False)


def asked() -> AskingForm:
    form = AskingForm({"figure": "5"})
    assert form.is_valid()
    form.add_error(CONFIRMED, [ValidationError(q, code="d1") for q in QUESTIONS])
    return form


def drawn(template: str) -> str:
    return Template("{% load components %}" + template).render(Context({"form": asked()}))


def test_the_tick_is_a_box_with_its_words_and_not_optional():
    page = drawn("{{ form.confirmed.as_field_group }}")
    assert "field-choice" in page
    assert "field-optional" not in page
    # beside it, a field that may stay empty says so
    assert "field-optional" in drawn("{{ form.figure.as_field_group }}")


def test_the_summary_leads_to_the_tick_once_for_all_questions():
    page = drawn("{% form_errors form %}")
    assert page.count("href=") == 1
    assert [q for q in QUESTIONS if q not in page] == []
