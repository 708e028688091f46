"""The drawing of cylinder bars against hand-worked places."""

import re
from xml.etree import ElementTree as ET

import pytest
from django.template import Context, Template
from django.template.loader import render_to_string
from django.utils import translation

from shopdiag.templatetags.bars import LEFT, PLOT_HEIGHT, ROW, STEP, TOP, draw, draw_lying
from shopdiag.templatetags.components import bars

FOUR = [
    {"cylinder": 1, "relative": 0.55, "low": 0.5, "high": 0.6, "call": "suspect"},
    {"cylinder": 3, "relative": 1.0, "low": 0.97, "high": 1.03, "call": "sound"},
    {"cylinder": 4, "relative": 0.85, "low": 0.8, "high": 0.9, "call": "watch"},
    {"cylinder": 2, "relative": 1.0, "low": 0.97, "high": 1.03, "call": "sound"},
]


def _draw(rows):
    return draw(rows, suspect_below=0.8, watch_below=0.88)


def test_heights_are_in_proportion():
    drawn = _draw(FOUR)
    # The scale ends at 1.1 (nothing is higher), so 0.55 is half of it.
    assert drawn.bars[0].height == pytest.approx(PLOT_HEIGHT / 2, abs=0.1)
    assert drawn.bars[0].top == pytest.approx(TOP + PLOT_HEIGHT / 2, abs=0.1)
    assert drawn.base_y == TOP + PLOT_HEIGHT
    assert [limit.label for limit in drawn.limits] == ["1.00", "0.88", "0.80"]
    assert drawn.limits[0].y == drawn.bars[1].top


def test_bars_keep_the_firing_order_and_stand_evenly():
    drawn = _draw(FOUR)
    assert [bar.name for bar in drawn.bars] == ["1", "3", "4", "2"]
    assert [bar.middle for bar in drawn.bars] == [LEFT + STEP * (i + 0.5) for i in range(4)]


def test_a_high_interval_stretches_the_scale():
    drawn = _draw([FOUR[0] | {"high": 1.5}])
    assert drawn.bars[0].high_y == TOP
    assert drawn.bars[0].value_y == TOP - 6


def test_a_dead_cylinder_has_no_height_and_stays_on_the_line():
    bar = _draw([FOUR[0] | {"relative": 0.0, "low": -0.05, "high": 0.04}]).bars[0]
    assert bar.height == 0
    assert bar.low_y == TOP + PLOT_HEIGHT


def test_unknown_numbers_are_places_not_cylinders():
    rows = [row | {"cylinder": None, "position": i} for i, row in enumerate(FOUR, start=1)]
    drawn = _draw(rows)
    assert not drawn.known
    assert [bar.name for bar in drawn.bars] == ["A", "B", "C", "D"]
    assert "cylinder not known" in render_to_string("components/bars.html", bars(rows))


def _svg(rows) -> ET.Element:
    return ET.fromstring(render_to_string("components/bars_svg.html", bars(rows)))  # noqa: S314


def test_the_picture_is_well_formed_and_told_in_words():
    svg = _svg(FOUR)
    assert "cylinder 1 0.55 suspect, cylinder 3 1.00 good" in svg.attrib["aria-label"]
    texts = [t.text for t in svg.iter("{http://www.w3.org/2000/svg}text")]
    for call in ("suspect", "watch", "good"):
        assert call in texts
    assert "sound" not in texts


def test_suspect_and_watch_are_hatched_and_sound_is_plain():
    fills = [r.attrib["fill"] for r in _svg(FOUR).findall("{http://www.w3.org/2000/svg}rect")]
    assert fills == ["url(#bars-close)", "#555", "url(#bars-wide)", "#555"]


def test_numbers_in_the_drawing_never_take_a_decimal_comma():
    with translation.override("de"):
        text = render_to_string("components/bars_svg.html", bars(FOUR))
    assert not re.search(r'="[-\d]+,\d', text)


@pytest.mark.parametrize("count", [1, 12, 16])
def test_any_number_of_cylinders_fits_its_own_width(count):
    rows = [FOUR[1] | {"cylinder": n} for n in range(1, count + 1)]
    drawn = _draw(rows)
    assert drawn.bars[-1].x + drawn.bars[-1].width < drawn.width


def test_up_to_five_cylinders_stand_and_more_lie():
    rows = [FOUR[1] | {"cylinder": n} for n in range(1, 13)]
    assert not bars(rows[:5])["lying"]
    assert bars(rows[:6])["lying"]
    assert "bars-lying" in render_to_string("components/bars.html", bars(rows))


def test_lying_bars_fit_a_phone_and_stand_in_firing_order_from_the_top():
    # 390 px less the page's and the frame's edges leave about 329 px: little is scaled down
    rows = [FOUR[i % 4] | {"cylinder": n} for i, n in enumerate((1, 5, 3, 6, 2, 4))]
    drawn = draw_lying(rows, suspect_below=0.8, watch_below=0.88)
    assert drawn.width <= 340
    assert [bar.name for bar in drawn.bars] == ["1", "5", "3", "6", "2", "4"]
    middles = [bar.middle for bar in drawn.bars]
    assert middles == sorted(middles)
    assert drawn.bars[-1].top + drawn.bars[-1].height < drawn.base_y
    assert all(bar.high_x < drawn.value_x - 30 for bar in drawn.bars)


def test_lying_bars_have_their_length_from_the_figure():
    rows = [{"cylinder": 1, "relative": 0.5, "low": 0.4, "high": 1.1, "call": "suspect"}] * 6
    drawn = draw_lying(rows, suspect_below=0.8, watch_below=0.88)
    whole = drawn.bars[0].high_x - drawn.left
    assert drawn.bars[0].width == pytest.approx(whole * 0.5 / 1.1, abs=0.1)
    assert drawn.bars[0].low_x - drawn.left == pytest.approx(whole * 0.4 / 1.1, abs=0.1)


def test_lying_bars_are_well_formed_hatched_and_told_in_words():
    rows = [FOUR[i % 4] | {"cylinder": n} for i, n in enumerate(range(1, 9))]
    with translation.override("de"):
        text = render_to_string("components/bars_lying_svg.html", bars(rows))
    svg = ET.fromstring(text)  # noqa: S314
    assert not re.search(r'="[-\d]+,\d', text)
    assert "cylinder 1 0,55 suspect" in svg.attrib["aria-label"]
    texts = [t.text for t in svg.iter("{http://www.w3.org/2000/svg}text")]
    assert {"suspect", "watch", "good"} <= set(texts)
    fills = [r.attrib["fill"] for r in svg.findall("{http://www.w3.org/2000/svg}rect")]
    assert fills[:4] == ["url(#bars-close)", "#555", "url(#bars-wide)", "#555"]


class TestPlainHumpHeight:
    def test_it_stands_beside_the_bar_at_its_own_height(self):
        drawn = _draw([row | {"hump_relative": 0.55} for row in FOUR])
        assert drawn.humps
        for bar in drawn.bars:
            # the scale ends at 1.1, so 0.55 is half of it
            assert bar.hump_y == pytest.approx(TOP + PLOT_HEIGHT / 2, abs=0.1)
            assert bar.x + bar.width < bar.hump_x < bar.x + STEP
            assert bar.hump == "0.55"

    def test_it_lies_below_the_lying_bar(self):
        rows = [row | {"hump_relative": 0.55} for row in FOUR]
        drawn = draw_lying(rows, suspect_below=0.8, watch_below=0.88)
        first = drawn.bars[0]
        assert first.hump_x == pytest.approx(drawn.left + first.width)
        assert first.top + first.height < first.hump_y < first.top + ROW

    def test_a_tall_one_stretches_the_scale(self):
        drawn = _draw([FOUR[0] | {"hump_relative": 1.6}])
        assert drawn.bars[0].hump_y == TOP

    @pytest.mark.parametrize("count", [4, 8])
    def test_the_mark_is_explained_and_told_in_figures(self, count):
        rows = [FOUR[1] | {"cylinder": i + 1, "hump_relative": 0.91} for i in range(count)]
        page = render_to_string("components/bars.html", bars(rows))
        assert page.count("<title>plain hump height 0.91</title>") == count
        assert "hollow diamond" in page
        assert page.count('data-label="Plain hump height">0.91<') == count

    def test_without_it_nothing_is_drawn_or_explained(self):
        page = render_to_string("components/bars.html", bars(FOUR))
        assert "hump" not in page


def test_a_call_is_told_in_the_words_of_the_sentences_around_it():
    told = Template("{% load components %}{% call_badge 'sound' %}").render(Context())
    assert "good" in told
    assert "sound" not in told


@pytest.mark.parametrize("place", [draw, draw_lying])
def test_a_high_cylinder_is_not_told_as_good(place):
    rows = [
        {"position": i, "cylinder": i, "relative": v, "low": v - 0.05, "high": v + 0.05, "call": c}
        for i, (v, c) in enumerate(
            [(1.0, "sound"), (1.26, "sound"), (0.5, "suspect"), (1.2, "sound")], 1
        )
    ]
    drawing = place(rows, suspect_below=0.8, watch_below=0.88)
    # after a weak cylinder the next hump stands high by itself
    assert [bar.call for bar in drawing.bars] == ["good", "high", "suspect", "good"]
