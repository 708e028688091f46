"""No text of a page escapes translation."""

import re
from pathlib import Path

import pytest
from django.apps import apps
from django.template import Context, Template
from django.utils.translation import gettext, ngettext, pgettext

from shopdiag.people.models import User
from shopdiag.people.services import token_create
from shopdiag.people.shop_forms import zone_choices
from tests.shopdiag.furnished import Furnished
from tests.shopdiag.pseudo_locale import (
    LANGUAGE,
    accented,
    accents,
    pattern_of,
    plain_words,
    texts_of,
)

# What people typed, by model and field.
TYPED = {
    "people.Shop": ("name", "address", "phone", "currency", "time_zone"),
    "people.User": ("name", "username", "email"),
    "people.ApiToken": ("label",),
    "engines.Engine": ("name", "numbering", "source"),
    "traces.Capture": ("original_name", "label"),
    "traces.Clamp": ("name",),
    "people.Invitation": ("label",),
    "traces.PinnedNote": ("text",),
    "traces.KnownGood": ("note",),
    "traces.Upload": ("name",),
    "jobs.Customer": ("name", "phone", "email"),
    "jobs.Vehicle": ("make", "model", "plate", "vin", "engine_code"),
    "jobs.Complaint": ("words", "happens_note", "recent_work", "authorised_by"),
    "jobs.TroubleCode": ("code",),
    "jobs.CodePaste": ("text",),
    "jobs.Note": ("text",),
    "jobs.Judgement": ("reason",),
    "jobs.CylinderFinding": ("words", "conditions"),
}
# Pages that show no text of ours, each with its reason.
LEFT_OUT = {
    "kit": "shows the look to developers",
    "api:docs": "the interface is described in English",
}
ROOT = Path(__file__).parents[2] / "templates"
TEMPLATES = sorted(
    str(path.relative_to(ROOT))
    for path in ROOT.rglob("*")
    if path.suffix in {".html", ".svg"} and path.name != "kit.html"  # for developers
)
# What is the same in every language.
UNTRANSLATED = {
    "shopdiag",
    "sha256",
    "Hz",
    "kPa",
    "kΩ",
    "bar",
    "psi",
    "km",
    "mi",
    "mV",
    "ms",
    "mg",
    "ml",
    "mm",
    "rpm",
    "us",
    "ns",
    "min",
}
# What recorders wrote into the files of the furnished shop, and how a program knows them.
RECORDED = {"clamp", "coil", "Time", "Engine speed"}
# What people type for a channel without a unit, whatever their language.
KEYWORDS = {"none"}


def typed() -> set[str]:
    found: set[str] = set()
    for name, fields in TYPED.items():
        rows = apps.get_model(name).objects.all()
        if name == "engines.Engine":
            rows = rows.exclude(shop=None)  # the library's words are ours
        for row in rows.values_list(*fields):
            found.update(" ".join(str(value).split()) for value in row if value)
    # Pages show the beginning of a file's digest.
    found |= {
        d[:16] for d in apps.get_model("traces.Capture").objects.values_list("sha256", flat=True)
    }
    # The menu calls people by their first name.
    return found | {name.split()[0] for name in User.objects.values_list("name", flat=True)}


@pytest.fixture
def in_accents(settings):
    """Everything in this test, what is stored included, is in the made-up language."""
    settings.LANGUAGES = [*settings.LANGUAGES, (LANGUAGE, "Accents")]
    with accents():
        yield


def test_every_text_of_every_page_can_be_translated(
    in_accents, furnished: Furnished, client_for, settings
):
    token_create(member=furnished.cast.owner, label="till")
    User.objects.update(language=LANGUAGE)
    client = client_for(furnished.cast.owner)
    zones = {label for _, zones in zone_choices() for _, label in zones}
    data = pattern_of(
        typed()
        | UNTRANSLATED
        | RECORDED
        | KEYWORDS
        | zones
        | set(dict(settings.LANGUAGES).values())
        | {region for region, _ in zone_choices()}
    )
    escaped: dict[str, list[str]] = {}
    for name, address in furnished.addresses().items():
        if name in LEFT_OUT or name.startswith("api:") or name == "people:sign-out":
            continue
        answer = client.get(address)
        if answer.streaming:
            b"".join(answer.streaming_content)
        elif "html" in answer.get("Content-Type", ""):
            escaped[name] = [
                text for text in texts_of(answer.content.decode()) if plain_words(text, data)
            ]
    assert {name: texts for name, texts in escaped.items() if texts} == {}
    # The walk saw pages, and not only refusals.
    assert len(escaped) > 20


_TRANSLATED = re.compile(r"{% blocktranslate.*?{% endblocktranslate %}|{%.*?%}|{{.*?}}", re.DOTALL)
_COMMENT = re.compile(r"{#.*?#}|{% comment %}.*?{% endcomment %}")


def _bare(template: str) -> list[str]:
    """Return the texts of a template that no tag translates, whatever branch they stand in."""
    texts = texts_of(_TRANSLATED.sub("", _COMMENT.sub("", template)))
    return [text for text in texts if plain_words(text, pattern_of(UNTRANSLATED))]


@pytest.mark.parametrize("file", TEMPLATES, ids=str)
def test_no_template_holds_a_text_that_cannot_be_translated(file):
    assert _bare((ROOT / file).read_text(encoding="utf-8")) == []


def test_a_bare_text_in_a_branch_is_found():
    template = '{% if a %}<p title="{% translate "Said" %}">{{ b }} escaped</p>{% endif %}'
    assert _bare(template) == ["escaped"]


def test_a_text_that_nobody_wrapped_is_found():
    page = Template("<p>{% translate 'Wrapped' %}</p><p aria-label='Escaped'>KX 204</p>Bare")
    with accents():
        texts = texts_of(page.render(Context()))
    data = pattern_of({"KX 204"})
    assert [text for text in texts if plain_words(text, data)] == ["Escaped", "Bare"]


def test_a_text_handed_to_a_wrapped_one_is_found():
    page = Template("{% blocktranslate %}It is {{ word }}.{% endblocktranslate %}")
    with accents():
        (text,) = texts_of(page.render(Context({"word": "escaped"})))
    assert plain_words(text, re.compile("$^")) == ["escaped"]


def test_placeholders_and_markup_stay():
    text = "<b>%(name)s</b> at %(share).1f&nbsp;% {count} of %s"
    kept = ("<b>%(name)s</b>", "%(share).1f&nbsp;%", "{count}", "%s")
    assert all(piece in accented(text) for piece in kept)
    with accents():
        assert gettext("word") == pgettext("a context", "word") == accented("word")
        assert ngettext("%(n)s hump", "%(n)s humps", 2) % {"n": 2} == f"2 {accented('humps')}"
