import pytest
from django.conf import settings
from django.utils import translation
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.search import phone_key, plate_key, query_read


@pytest.mark.parametrize("typed", ["KX-204 T", "kx204t", " K X 2 0 4 T ", "KX·204·T"])
def test_plates_compare_without_spacing(typed):
    assert plate_key(typed) == "KX204T"


@pytest.mark.parametrize("typed", ["+49 (30) 555-123", "0049 30/555 123"])
def test_phones_compare_by_digits(typed):
    assert phone_key(typed).endswith("4930555123")


@pytest.mark.parametrize(
    ("text", "attribute", "value"),
    [
        ("kx 204", "plate", "KX204"),
        ("118341", "vin", "118341"),
        ("030 555-123", "digits", "030555123"),
        ("p0301", "code", "P0301"),
        ("shakes at idle", "words", ("shakes", "at", "idle")),
    ],
)
def test_one_box_is_read_every_way(text, attribute, value):
    assert getattr(query_read(text), attribute) == value


@pytest.mark.parametrize("language", [code for code, _ in settings.LANGUAGES])
@pytest.mark.parametrize("text", ["Job {number}", "job no. {number}", "JOB #{number}"])
def test_a_job_is_found_by_its_name_in_every_language(language, text):
    with translation.override(language):
        called = translation.gettext("Job %(number)s") % {"number": 4}
    assert query_read(called.upper()).number == 4
    assert query_read(text.format(number=4)).number == 4


@pytest.mark.parametrize("text", ["trabajo n.º 4", "Trabajo núm. 4", "trabajo número 4", "n.º 4"])
def test_a_number_is_written_as_spanish_does(text):
    assert query_read(text).number == 4


@pytest.mark.parametrize("text", ["trabajos 4", "mi trabajo 4", "trabajo", "n 4", "jobs 4"])
def test_what_only_looks_like_a_job_is_words(text):
    assert query_read(text).number is None


def test_words_are_no_phone_and_a_number_too_short_is_not_looked_for():
    assert query_read("room 123 4567").digits == ""
    assert query_read("12").digits == ""


def test_empty_finds_nothing_to_look_for():
    assert query_read("  \x00 ").is_empty


@given(st.text(max_size=400))
def test_any_text_is_a_query(text):
    query = query_read(text)
    assert len(query.words) <= 8
    assert "\x00" not in query.text
