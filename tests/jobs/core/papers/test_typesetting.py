"""Papers as PDF: whole, tagged, the same each time, in every script, bounded."""

import sys
from io import BytesIO
from pathlib import Path
from typing import Any
from unicodedata import normalize

import pytest
from django.conf import settings
from django.utils.html import escape
from pypdf import PdfReader

from jobs import apps
from jobs.core.papers import (
    LONGEST_CHARACTERS,
    SCRIPTS,
    PaperSize,
    TypesettingError,
    fonts_in,
    read_sheet,
    scripts_missing,
    typeset,
    typesetting,
)

# Widths and heights in points: ISO 216 and ANSI/ASME Y14.1.
POINTS = {PaperSize.A4: (595.28, 841.89), PaperSize.LETTER: (612.0, 792.0)}
HOSTILE = [
    '#let x = [*bold*] $a$ \\ // c #panic() #read("/etc/passwd") @ref <label> `raw`',
    "</article><script>1</script> {{ 7|add:7 }} &amp; <b>",
    "w" * 10_000,
    "a b " * 2_500,
    "\u202eright to left override" * 400,
    "\u0645" * 10_000,
    "王" * 10_000,
    "e" + "\u0301" * 9_999,
    "line\n" * 2_000,
    "👩\u200d🔧" * 3_000,
    "\x00\x07\x1b\ud7ff\ufffe\U0010ffff\u2028 end",
]


@pytest.fixture(scope="module")
def fonts():
    return fonts_in(settings.FONT_FOLDERS)


@pytest.fixture
def made(fonts):
    def go(*texts, paper=PaperSize.A4, inside="", title="Paper · Job 4"):
        lines = "".join(f'<p class="written">{escape(text)}</p>' for text in texts)
        sheet = read_sheet(
            f'<article class="sheet sheet-letter"><h1>Head</h1>{lines}{inside}</article>'
        )
        return typeset(sheet, title=title, language="en", paper=paper, fonts=fonts)

    return go


def _words(pdf):
    pages = PdfReader(BytesIO(pdf)).pages
    return [normalize("NFC", page.extract_text()).replace("\u200b", "") for page in pages]


def _plain(found: Any) -> Any:
    return found.get_object()


def _fonts_of(pdf):
    for page in PdfReader(BytesIO(pdf)).pages:
        for font in _plain(page["/Resources"])["/Font"].values():
            yield _plain(_plain(_plain(font)["/DescendantFonts"])[0])["/FontDescriptor"]


@pytest.mark.parametrize("paper", list(PaperSize))
def test_paper_title_language_tags_and_fonts(made, paper):
    pdf = made("Äé 1.00 → ▲", paper=paper, title="Über <b> #x")
    reader = PdfReader(BytesIO(pdf))
    box = reader.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(POINTS[paper], abs=0.1)
    assert _plain(reader.trailer["/Info"])["/Title"] == "Über <b> #x"
    catalog = _plain(reader.root_object)
    assert catalog["/Lang"] == "en"
    assert catalog["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in catalog
    # whole in itself: every font comes along
    embedded = list(_fonts_of(pdf))
    assert embedded
    assert all({"/FontFile", "/FontFile2", "/FontFile3"} & set(font) for font in embedded)


def test_the_same_sheet_gives_the_same_bytes(made):
    assert made("Once", "김 山 ب") == made("Once", "김 山 ب")
    assert made("Once") != made("Twice")


def test_the_fonts_that_come_along_have_every_script_of_names(fonts):
    assert scripts_missing(fonts) == ()
    assert apps.check_fonts() == []


@pytest.mark.parametrize("script", [s for s in SCRIPTS if s != "emoji"])
def test_each_script_is_set_and_can_be_copied_out(made, script):
    # the typesetter refuses a missing glyph by itself: PDF/UA-1 allows none (ISO 14289-1, 7.21.8)
    (page,) = _words(made(SCRIPTS[script]))
    assert set(normalize("NFC", SCRIPTS[script])) <= set(page)


def test_names_of_several_scripts_stand_in_one_line(made):
    name = "Élodie Žižková Юрий Ελένη 王小明 さくら 김철수 प्रिया สมชาย 😀"
    (page,) = _words(made(name))
    for part in name.split():
        assert set(part) <= set(page)


def test_what_no_font_has_is_named_by_its_number(made, fonts):
    assert fonts.lacking("a𓀀b𓀀\u202e\u200d") == ("𓀀",)
    (page,) = _words(made("a𓀀b", title="𓀀"))
    assert "a[U+13000]b" in page


def test_without_fonts_the_check_tells_what_is_missing(settings, tmp_path):
    (tmp_path / "broken.ttf").write_bytes(b"\x00\x01\x00\x00\x00\xff no font at all")
    settings.FONT_FOLDERS = [tmp_path, tmp_path / "not there"]
    (warning,) = apps.check_fonts()
    assert warning.id == "jobs.W001"
    assert all(script in warning.msg for script in SCRIPTS)


def test_a_folder_of_ones_own_adds_to_those_that_come_along(tmp_path):
    (folder,) = settings.FONT_FOLDERS[:1]
    own = next(Path(folder).glob("*Thai*"))
    (tmp_path / own.name).write_bytes(own.read_bytes())
    alone = fonts_in([tmp_path])
    assert alone.lacking("ก김") == ("김",)
    assert alone.families == ("Noto Sans Thai",)


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_texts_stay_text(made, text):
    pages = _words(made(text, "The end stands."))
    assert "The end stands." in " ".join(" ".join(pages).split())


def test_markup_of_the_typesetter_is_shown_as_it_was_typed(made):
    (page,) = _words(made(HOSTILE[0]))
    assert '#let x = [*bold*] $a$ \\ // c #panic() #read("/etc/passwd")' in " ".join(page.split())


def test_a_huge_word_stays_inside_the_margins(made):
    pdf = made("w" * 10_000, inside="<table><tbody><tr><td>1</td><td>" + "v" * 3000)
    right = []
    for page in PdfReader(BytesIO(pdf)).pages:
        page.extract_text(
            visitor_text=lambda text, _cm, tm, _font, _size: right.append(tm[4]) if text else None
        )
        assert len(page.extract_text()) > 0
    assert max(right) < POINTS[PaperSize.A4][0]
    lines = [line for page in _words(pdf) for line in page.splitlines()]
    # 184 mm at 10.5 points hold some 70 letters of this width
    assert max(map(len, lines)) < 130


def test_words_of_drawings_are_text_too(made):
    label = "cylinder, in firing order"
    svg = (
        '<svg class="bars" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 300 50" width="300" '
        'height="50" aria-label="bars" font-family="sans-serif"><text x="5" y="20">'
        f"{label} → 김</text></svg>"
    )
    (page,) = _words(made("x", inside=svg))
    assert label in page
    assert {"→", "김"} <= set(page)


def test_too_long_a_paper_is_refused(made):
    with pytest.raises(TypesettingError, match="too-long"):
        made("word " * (LONGEST_CHARACTERS // 5 + 1))


def test_a_process_that_takes_too_long_is_ended(made, monkeypatch):
    monkeypatch.setattr(typesetting, "_MOST_S", 0.001)
    with pytest.raises(TypesettingError, match="out-of-time"):
        made("x")


def test_a_turn_is_given_back_after_a_failure(made, monkeypatch):
    for _ in range(5):
        with monkeypatch.context() as broken:
            broken.setattr(sys, "executable", "/bin/false")
            with pytest.raises(TypesettingError):
                made("x")
    assert made("x").startswith(b"%PDF-")


def test_the_rule_at_the_foot_clears_the_words_under_it(made):
    page = PdfReader(BytesIO(made("Words."))).pages[0]
    rules_y, words_y = [], []

    def operand(operator, operands, matrix, _text):
        if operator == b"l":
            x, y = (float(value) for value in operands)
            rules_y.append(matrix[1] * x + matrix[3] * y + matrix[5])

    def words(text, matrix, text_matrix, _font, size):
        if "Job 4" in text:
            x, y = text_matrix[4], text_matrix[5]
            words_y.append((matrix[1] * x + matrix[3] * y + matrix[5], size))

    page.extract_text(visitor_operand_before=operand, visitor_text=words)
    ((line_y, size),) = words_y[-1:]
    foot_y = min(y for y in rules_y if y < 100)
    assert foot_y > line_y + size
