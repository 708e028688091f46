"""No code hands text to the browser as markup without escaping it (templates: test_look)."""

import re
from pathlib import Path

import pytest
from django import forms
from django.template import Context, Template
from django.utils.functional import lazystr
from django.utils.safestring import SafeString

ROOT = Path(__file__).parents[2]
# Each of these writes markup of its own around text that is escaped already.
KNOWN = {
    "shopdiag/templatetags/components.py": "wraps blocks that the engine has rendered",
    "shopdiag/templatetags/unbroken.py": "wraps pieces that `format_html` has escaped",
}
CODE = [
    path
    for folder in ("shopdiag", "jobs", "traces", "engines")
    for path in sorted((ROOT / folder).rglob("*.py"))
]
OPEN_CODE = re.compile(
    r"mark_safe|SafeString|SafeText|__html__|autoescape=False|render_autoescaped"
)


def test_no_code_calls_text_markup():
    assert len(CODE) > 100
    found = {str(p.relative_to(ROOT)) for p in CODE if OPEN_CODE.search(p.read_text())}
    assert found == set(KNOWN)


@pytest.mark.parametrize("widget", [forms.TextInput, forms.CheckboxInput, forms.RadioSelect])
def test_a_label_or_help_made_of_somebodys_words_stays_text(widget):
    evil = "<img src=x onerror=alert(1)>"

    class Hostile(forms.Form):
        one = forms.ChoiceField(
            label=evil, help_text=evil, choices=[(evil, evil)], widget=widget, initial=evil
        )

    shown = Template("{{ form.one.as_field_group }}").render(Context({"form": Hostile()}))
    assert "<img" not in shown
    assert shown.count("&lt;img") >= 2


def test_markup_that_is_said_late_stays_markup_and_text_stays_text():
    late = {"markup": lazystr(SafeString("<b>1</b>")), "text": lazystr("<i>")}
    shown = Template("{% load components %}{{ markup|unbroken }} {{ text|unbroken }}")
    assert shown.render(Context(late)) == "<b>1</b> &lt;i&gt;"
