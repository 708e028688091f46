"""A sheet's markup is read as data: text stays text, and nothing of it spoils the page."""

import pytest
from django.utils.html import escape
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.papers import read_sheet, sheet_text
from jobs.core.papers.sheet_tree import LONGEST_WORD


def _sheet(inside):
    return read_sheet(f'<p>before</p><article class="sheet sheet-one">{inside}</article>')


def test_parts_lists_and_tables_keep_their_order():
    sheet = _sheet(
        '<h1>A &amp; B</h1><ul><li>one</li><li class="x">two <strong>big</strong></li></ul>'
        "<table><thead><tr><th>c</th></tr></thead><tbody><tr><td colspan=2>1</td></tr></tbody>"
        "</table>"
    )
    assert sheet.classes == ("sheet", "sheet-one")
    assert [node["t"] for node in sheet.nodes] == ["h1", "ul", "table"]
    assert sheet_text(sheet).split() == ["A", "&", "B", "one", "two", "big", "c", "1"]
    assert sheet.nodes[2]["k"][1]["k"][0]["k"][0]["span"] == 2


def test_what_is_for_the_screen_alone_is_left_out():
    left = '<form><p>a</p></form><div class="no-print"><p>b<br>c</p></div><p class="unseen">d</p>'
    assert sheet_text(_sheet(left + "<p>e</p>")).split() == ["e"]


def test_written_lines_stay_lines_and_others_flow():
    written, flowing = _sheet('<p class="written">a\n b</p><p>a\n b</p>').nodes
    assert [n if isinstance(n, str) else n["t"] for n in written["k"]] == ["a", "br", " b"]
    assert flowing["k"] == ["a b"]


def test_a_drawing_keeps_its_capitals_and_tells_its_size():
    (node,) = _sheet(
        '<svg class="plan" viewBox="0 0 8 4" stroke-width="2" width="80" height="40" '
        'aria-label="Bars &lt;3"><text>1.00 &amp; on</text></svg>'
    ).nodes
    assert 'viewBox="0 0 8 4"' in node["svg"]
    assert (node["wide"], node["high"], node["alt"]) == (80.0, 40.0, "Bars <3")


def test_markup_without_a_sheet_is_refused():
    with pytest.raises(ValueError, match="article"):
        read_sheet("<p>nothing</p>")


def test_turned_directions_towers_and_huge_words_are_tamed():
    text = sheet_text(_sheet("<p>\u202eabc\u2066 e" + "\u0301" * 50 + " " + "w" * 95 + "</p>"))
    assert "\u202e" not in text
    assert "\u2066" not in text
    assert text.count("\u0301") == 6
    assert max(len(piece) for piece in text.replace("\u200b", " ").split()) <= LONGEST_WORD
    assert text.replace("\u200b", "").endswith("w" * 95)


def test_no_break_falls_between_a_letter_and_its_mark():
    text = sheet_text(_sheet("<p>" + "e\u0301" * 60 + "</p>"))
    assert "\u200b" in text
    assert "\u200b\u0301" not in text


@given(st.text(alphabet=st.characters(codec="utf-8"), max_size=300))
def test_any_typed_text_comes_as_one_paragraph_of_text(typed):
    nodes = _sheet(f'<p class="written">{escape(typed)}</p><h2>end</h2>').nodes
    assert [node["t"] for node in nodes] == ["p", "h2"]
    assert all(isinstance(n, str) or n["t"] == "br" for n in nodes[0]["k"])
