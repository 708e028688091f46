"""The plan view as inline SVG."""

from xml.etree import ElementTree as ET

import pytest
from django.template.loader import render_to_string
from django.utils import translation

from engines.core.drawing import plan_drawing
from engines.models import Engine
from tests.wording import says

SVG = "{http://www.w3.org/2000/svg}"


def _svg(engine: Engine, marked: dict[int, str]) -> ET.Element:
    drawing = plan_drawing(engine.geometry, marked)
    return ET.fromstring(render_to_string("engines/plan.svg.html", {"drawing": drawing}))  # noqa: S314


def test_it_is_whole_xml_with_every_cylinder(library):
    svg = _svg(library["v8-1-8-4-3-6-5-7-2"], {3: "suspect", 6: "watch"})
    words = [text.text for text in svg.iter(f"{SVG}text")]
    assert {"1", "2", "3", "4", "5", "6", "7", "8"} <= set(words)
    assert {"front", "flywheel", "bank A", "bank B", "suspect", "watch"} <= set(words)
    marked = [g for g in svg.iter(f"{SVG}g") if g.get("class") == "plan-marked"]
    assert len(marked) == 2
    assert all(len(g.findall(f"{SVG}line")) > 6 for g in marked)
    assert len(list(svg.iter(f"{SVG}circle"))) == 8


def test_it_needs_no_inline_style_and_no_ids(library):
    svg = _svg(library["i4-1-3-4-2"], {1: "suspect"})
    attributes = {name for element in svg.iter() for name in element.attrib}
    assert not attributes & {"style", "id"}
    assert not any(name.startswith("on") for name in attributes)
    assert not list(svg.iter(f"{SVG}style"))


@pytest.mark.parametrize("language", ["en", "de"])
def test_numbers_keep_their_point_in_every_language(library, language):
    with translation.override(language):
        svg = _svg(library["i4-1-3-4-2"], {2: "suspect"})
    for line in svg.iter(f"{SVG}line"):
        for name in ("x1", "y1", "x2", "y2"):
            float(line.attrib[name])
    assert len(svg.attrib["viewBox"].split()) == 4


def test_words_are_never_markup(library):
    engine = library["i4-1-3-4-2"]
    engine.name = 'Four "<b>"'
    svg = _svg(engine, {2: "<i>x</i>"})
    assert svg.attrib["aria-label"].startswith('Four "<b>", seen from above.')
    assert "<i>x</i>" in [text.text for text in svg.iter(f"{SVG}text")]


def test_the_figure_says_from_where_it_is_seen(library):
    drawing = plan_drawing(library["i4-1-3-4-2"].geometry)
    page = render_to_string("engines/plan.html", {"drawing": drawing})
    assert says(page, "plan.seen-from-above", view_from=drawing.view_from)
