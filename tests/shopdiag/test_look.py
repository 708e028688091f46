"""The look keeps its promises: one file of tokens, local assets, no inline script or style."""

import hashlib
import json
import re
from pathlib import Path

import plotly.offline
import pytest
from django.contrib.staticfiles import finders
from django.template import Context, Template
from django.template.loader import get_template
from django.test import Client
from django.test.utils import instrumented_test_render  # type: ignore[attr-defined]  # not in the stubs
from django.urls import reverse

from shopdiag.kit import KitForm
from tests.wording import says

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = ROOT / "templates"
STATIC = ROOT / "shopdiag" / "static"
ALL_TEMPLATES = sorted(p for p in TEMPLATES.rglob("*") if p.is_file())
SHEETS = sorted((STATIC / "css").glob("*.css"))
SCRIPTS = sorted((STATIC / "js").glob("*.js"))


def _name(path: Path) -> str:
    return str(path.relative_to(ROOT))


def _without_comments(text: str) -> str:
    return re.sub(r"\{#.*?#\}|\{% comment %\}.*?\{% endcomment %\}", "", text, flags=re.DOTALL)


# --- templates ---

INLINE = {
    "a script without a file": re.compile(r"<script(?![^>]*\ssrc=)", re.IGNORECASE),
    "a style element": re.compile(r"<style\b", re.IGNORECASE),
    "a style attribute": re.compile(r"\sstyle\s*=", re.IGNORECASE),
    "a handler attribute": re.compile(r"\son[a-z]+\s*=\s*[\"']", re.IGNORECASE),
    "a script address": re.compile(r"javascript:", re.IGNORECASE),
    "an htmx handler": re.compile(r"hx-on[:=-]", re.IGNORECASE),
    "a filter that trusts text": re.compile(r"\|\s*safe(seq)?\b"),
    "escaping turned off": re.compile(r"autoescape off"),
}


@pytest.mark.parametrize("path", ALL_TEMPLATES, ids=_name)
def test_no_template_has_anything_inline(path):
    text = _without_comments(path.read_text(encoding="utf-8"))
    assert [what for what, pattern in INLINE.items() if pattern.search(text)] == []


@pytest.mark.parametrize("what", INLINE)
def test_the_search_for_inline_parts_finds_them(what):
    bad = {
        "a script without a file": '<script type="module">x()</script>',
        "a style element": "<style>a{}</style>",
        "a style attribute": '<p style="color:red">',
        "a handler attribute": '<p onclick="x()">',
        "a script address": '<a href="javascript:x()">',
        "an htmx handler": '<p hx-on:click="x()">',
        "a filter that trusts text": "{{ note.text|safe }}",
        "escaping turned off": "{% autoescape off %}",
    }
    assert INLINE[what].search(bad[what])


@pytest.mark.parametrize("path", ALL_TEMPLATES, ids=_name)
def test_templates_compile_and_their_files_exist(path):
    get_template(str(path.relative_to(TEMPLATES)))
    for asset in re.findall(r"\{% static ['\"]([^'\"]+)['\"]", path.read_text(encoding="utf-8")):
        assert finders.find(asset), f"{asset} is not there"


@pytest.mark.parametrize("path", ALL_TEMPLATES, ids=_name)
def test_cells_carry_their_label_for_the_phone(path):
    """On a phone a table's head is gone; every cell names its column itself."""
    text = _without_comments(path.read_text(encoding="utf-8"))
    cells = re.findall(r"<td\b(?:[^>{]|\{\{.*?\}\}|\{%.*?%\})*>", text)
    assert [c for c in cells if "data-label=" not in c and "colspan=" not in c] == []


@pytest.mark.parametrize("path", [*ALL_TEMPLATES, *SHEETS, *SCRIPTS], ids=_name)
def test_nothing_is_loaded_from_elsewhere(path):
    text = re.sub(r"http://www\.w3\.org/[\w/.]+", "", path.read_text(encoding="utf-8"))
    assert not re.search(r"(?:https?:)?//[a-z0-9-]+\.[a-z]", text)
    assert "@import" not in text


# --- tokens ---


def _blocks() -> dict[str, dict[str, str]]:
    text = (STATIC / "css" / "tokens.css").read_text(encoding="utf-8")
    found: dict[str, dict[str, str]] = {}
    for selector, body in re.findall(r"([^{}]+)\{([^{}]*)\}", text):
        last = selector.strip().splitlines()[-1].strip()
        names = dict(re.findall(r"--([\w-]+):\s*([^;]+);", body))
        found.setdefault(last, {}).update(names)
    return found


def test_dark_by_device_and_dark_by_choice_are_the_same():
    blocks = _blocks()
    by_device = blocks[':root:not([data-theme="light"])']
    by_choice = blocks[':root[data-theme="dark"]']
    assert by_device == by_choice
    assert set(by_choice) <= set(blocks[":root"])


def _luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it (w3.org/TR/WCAG22, "relative luminance")."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def _contrast(one: str, other: str) -> float:
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_is_right():
    # WCAG 2.2: black on white is 21:1; #767676 on white is the well-known 4.54:1.
    assert _contrast("#000000", "#ffffff") == pytest.approx(21)
    assert _contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", [":root", ':root[data-theme="dark"]'], ids=["light", "dark"])
@pytest.mark.parametrize(
    ("text", "ground", "least"),
    [
        # WCAG 2.2 success criterion 1.4.6 asks 7:1, 1.4.3 asks 4.5:1; ink is read in the sun.
        ("ink", "paper", 10.0),
        ("ink", "card", 10.0),
        ("ink", "sunk", 10.0),
        ("ink", "warn-wash", 7.0),
        ("ink-soft", "paper", 7.0),
        ("ink-soft", "card", 7.0),
        ("pen", "paper", 7.0),
        ("pen", "sunk", 7.0),
        ("pen", "pen-wash", 7.0),
        ("warn", "card", 4.5),
        ("warn", "paper", 4.5),
        ("warn", "warn-wash", 4.5),
        ("on-ink", "ink", 10.0),
    ],
)
def test_text_can_be_read(theme, text, ground, least):
    colours = _blocks()[":root"] | _blocks()[theme]
    assert _contrast(colours[text], colours[ground]) >= least


def test_targets_are_large_enough_for_a_dirty_thumb():
    # WCAG 2.2 success criterion 2.5.5 asks 44 px.
    assert int(_blocks()[":root"]["target"].removesuffix("px")) >= 48


# Paper is black and white; the API's description wears its own library's colours.
WITHOUT_TOKENS = {"tokens.css", "print.css", "docs.css"}


@pytest.mark.parametrize("path", [s for s in SHEETS if s.name not in WITHOUT_TOKENS], ids=_name)
def test_colours_and_fonts_stand_in_the_tokens_only(path):
    text = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert not re.search(r"#[0-9a-fA-F]{3,8}\b|\brgba?\(|\bhsla?\(", text)
    for family in re.findall(r"font-family:\s*([^;]+);", text):
        assert family.startswith("var(--font-")


@pytest.mark.parametrize("path", SHEETS, ids=_name)
def test_every_token_that_is_used_is_defined(path):
    used = set(re.findall(r"var\(--([\w-]+)", path.read_text(encoding="utf-8")))
    assert used <= set(_blocks()[":root"])


# --- the plotting library ---


def test_the_plotting_script_is_the_version_the_server_speaks():
    head = (STATIC / "vendor/plotly/plotly-cartesian.min.js").read_text(encoding="utf-8")[:300]
    assert f"v{plotly.offline.get_plotlyjs_version()}\n" in head


def test_the_plotting_script_finds_its_rules_in_the_linked_sheet():
    """The script looks for this id and class before it would write rules inline."""
    script = (STATIC / "vendor/plotly/plotly-cartesian.min.js").read_text(encoding="utf-8")
    assert '"plotly.js-style-"+' in script
    assert ".no-inline-styles" in script
    link = get_template("components/plot_scripts.html").render()
    assert 'id="plotly.js-style-global" class="no-inline-styles"' in link
    version = plotly.offline.get_plotlyjs_version()
    sheet = (STATIC / "vendor/plotly/plotly-cartesian.css").read_text(encoding="utf-8")
    assert f"plotly.js {version} " in sheet
    assert "MIT" in (STATIC / "vendor/plotly/LICENSE.txt").read_text(encoding="utf-8")


# --- the digests' library ---

# As published on the npm registry: version, and the SHA-256 of each file.
PUBLISHED = {
    "noble-hashes": (
        "@noble/hashes",
        "2.4.0",
        {
            "LICENSE.txt": "4f221aee6e072336700c408c68ab3b96a3fc09f6aebe6f48f1bd99e5ef13faec",
            "_md.js": "60cf3010fda89e3e4d3f0e7ff1ce249e9c467f34b4fd41b6fd6101d9f69be763",
            "_u64.js": "b09da8c07fe8187c07649494cdb7cd0bcf13df90b506a9473d19e4d5f8c2e102",
            "package.json": "3e361734f5269de162fa362483d7f45dee7efb533ec217157945338f7591baaf",
            "sha2.js": "471746bba6ec4c6238ca41358d1d3b40b6ff31cf3363f0b4d550c649c1a8e83b",
            "utils.js": "037ad49adb78168b6b699598fd33f85f7877456b1d28b4d032e2a1a16807947c",
        },
    ),
    "tus-js-client": (
        "tus-js-client",
        "4.3.1",
        {
            "LICENSE.txt": "2ec372e137fa65938a6551e9abaa3d3ea21f5ebd398fca00a13354ea881e6539",
            "package.json": "cf6dd4ab2e411c6e6509bc585b49d205ce17d8228455971d3fadfa515de83393",
            "tus.min.js": "8cbb1b63fccc3bba0ae73ad1deb160ce046c3750851d0c3e94921ae3ef070eb8",
            "tus.min.js.map": "4653a3a430959c4ea0500efb95ed48d4b825efe47654cf22b8c64d35eb2ac81b",
        },
    ),
}


@pytest.mark.parametrize("library", sorted(PUBLISHED))
def test_a_vendored_library_is_as_it_was_published(library):
    name, version, digests = PUBLISHED[library]
    folder = STATIC / "vendor" / library
    found = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.iterdir()}
    assert found == digests
    about = json.loads((folder / "package.json").read_text(encoding="utf-8"))
    assert (about["name"], about["version"], about["license"]) == (name, version, "MIT")
    # Each module's own imports lie beside it.
    for path in folder.glob("*.js"):
        imported = re.findall(r'^import .* from "\./([^"]+)"', path.read_text(), re.MULTILINE)
        assert set(imported) <= set(digests)


# --- components ---


def test_the_kit_shows_every_component(monkeypatch):
    # The client is told of whole pages only (`tests/told_templates.py`); here the parts count.
    monkeypatch.setattr(Template, "_render", instrumented_test_render)
    answer = Client().get(reverse("kit"))
    shown = {template.name for template in answer.templates}
    components = {f"components/{p.name}" for p in (TEMPLATES / "components").glob("*.html")}
    assert components - shown == set()


@pytest.mark.django_db
def test_the_kit_needs_no_sign_in_and_has_nothing_inline():
    page = Client().get(reverse("kit")).content.decode()
    for what, pattern in INLINE.items():
        assert not pattern.search(page), what
    ids = re.findall(r'\sid="([^"]+)"', page)
    repeated = {i for i in ids if ids.count(i) > 1}
    # Two copies of one sample form stand side by side.
    assert {i for i in repeated if not i.startswith("id_")} == set()


def _draw(source: str, **context) -> str:
    return Template("{% load components %}" + source).render(Context(context))


HOSTILE = '<img src=x onerror="x()">'


@pytest.mark.parametrize(
    "source",
    [
        "{% badge text %}",
        "{% finding severity='stop' message=text remedy=text where=text %}",
        "{% finding one %}",
        "{% button kind=text %}{{ text }}{% endbutton %}",
        "{% button href=text title=text %}x{% endbutton %}",
        "{% card title=text badge=text id=text %}{{ text }}{% endcard %}",
        "{% page_head title=text kicker=text lead=text %}{{ text }}{% endpage_head %}",
        "{% empty title=text %}{{ text }}{% endempty %}",
        "{% entry who=text %}{{ text }}{% endentry %}",
        "{% table caption=text %}{{ text }}{% endtable %}",
        "{% more summary=text %}{{ text }}{% endmore %}",
        "{% caution title=text %}{{ text }}{% endcaution %}",
        "{% stage_strip stages 'a' %}",
        "{% bars bars_of title=text id=text %}",
    ],
)
def test_text_of_people_never_becomes_markup(source):
    found = {"severity": "warn", "message": HOSTILE, "remedy": HOSTILE, "channel": HOSTILE}
    bar = {"cylinder": HOSTILE, "relative": 1, "low": 0.9, "high": 1.1, "call": HOSTILE}
    drawn = _draw(source, text=HOSTILE, one=found, stages=[("a", HOSTILE)], bars_of=[bar])
    assert "<img" not in drawn
    assert "&lt;img" in drawn


def test_a_button_passes_attributes_on_and_a_link_is_a_link():
    drawn = _draw("{% button kind='primary' hx_post='/x' disabled=True %} Save {% endbutton %}")
    assert drawn.strip() == (
        '<button class="btn btn-primary" type="submit" hx-post="/x" disabled>Save</button>'
    )
    assert _draw("{% button href='/x' %}Go{% endbutton %}").strip() == (
        '<a class="btn btn-plain" href="/x">Go</a>'
    )


def test_stages_are_told_without_colour():
    drawn = _draw("{% stage_strip s 'b' %}", s=[("a", "First"), ("b", "Second"), ("c", "Third")])
    words = re.findall(r'stage-(\w+)"(?: aria-current="step")?>.*?\((\w[\w ]*)\)', drawn)
    assert words == [("done", "done"), ("current", "now"), ("todo", "to come")]
    assert drawn.count('aria-current="step"') == 1


def test_a_finding_names_its_severity_its_remedy_and_its_place():
    drawn = _draw(
        "{% finding one %}",
        one={
            "severity": "stop",
            "message": "Cut off.",
            "remedy": "Choose a larger range.",
            "channel": "clamp",
            "from_s": 0.4,
            "to_s": 0.9,
        },
    )
    for part in ("Stop", "Cut off.", "Choose a larger range.", "channel clamp, 0.40 s to 0.90 s"):
        assert part in drawn


def test_a_field_ties_help_and_error_to_its_control():
    form = KitForm({"odometer": "many"})
    drawn = _draw("{{ f.plate.as_field_group }}{{ f.odometer.as_field_group }}", f=form)
    assert 'aria-describedby="id_plate_helptext id_plate_error"' in drawn
    assert 'id="id_plate_helptext"' in drawn
    assert 'id="id_plate_error"' in drawn
    assert drawn.count('aria-invalid="true"') == 2
    assert '<span class="field-unit">km</span>' in drawn
    assert 'for="id_odometer"' in drawn


def test_choices_stand_in_a_named_group_and_optional_is_said():
    drawn = _draw("{{ f.cranks.as_field_group }}{{ f.lamps.as_field_group }}", f=KitForm())
    assert drawn.count("<fieldset") == drawn.count("<legend>") == 2
    assert drawn.count(">optional<") == 1


def test_the_error_summary_leads_to_the_fields():
    form = KitForm({"odometer": "many", "cranks": "even", "engine": "i4", "plate": "X"})
    drawn = _draw("{% form_errors f %}", f=form)
    assert '<a href="#id_odometer">Odometer</a>: Enter a whole number.' in drawn
    assert drawn.count("<li>") == 1
    assert _draw("{% form_errors f %}", f=KitForm()).strip() == ""


def test_the_conflict_panel_shows_both_sides():
    page = Client().get(reverse("kit")).content.decode()
    panel = page[page.index('class="conflict"') :]
    panel = panel[: panel.index("</section>")]
    assert says(panel, "conflict.not-saved-now-saved", name="Mika Mech", at="09:41")
    for part in ("Shakes when cold.", "Shakes when cold, worse in rain.", "Odometer (84,210)"):
        assert part in panel


@pytest.mark.parametrize("name", ["400", "403", "403_csrf", "404", "500"])
def test_error_pages_stand_without_a_request(name):
    page = get_template(f"{name}.html").render()
    assert "<h1>" in page
    assert 'href="/"' in page


@pytest.mark.django_db
def test_a_form_that_grew_old_is_answered_with_what_to_do(cast):
    client = Client(enforce_csrf_checks=True)
    answer = client.post(reverse("people:sign-in"), {"username": "x", "password": "y"})
    assert answer.status_code == 403
    assert says(answer.content.decode(), "csrf.you-signed-again-page")
