"""Each text that tests name is said by the product, and each name is one that tests use."""

import ast
import re
from pathlib import Path

import pytest

from shopdiag.people.core.words import say, say_count
from tests.wording import (
    PROJECT,
    content_texts,
    said_now,
    says,
    says_only,
    texts,
    wording,
)
from tests.wording.__main__ import write

_NAME = re.compile(r"""["']([a-z][\w/-]*[.:][\w.-]+)["']""")


def test_the_product_says_every_text_as_it_stands_here():
    now = said_now()
    stale = {name: forms for name, forms in texts().items() if "\0".join(forms) not in now}
    assert stale == {}, "run `python -m tests.wording`"


def test_every_name_is_used_by_a_test():
    used = set()
    for file in (PROJECT / "tests").rglob("*.py"):
        used |= set(_NAME.findall(file.read_text(encoding="utf-8")))
    assert set(texts()) - used == set()


def test_no_assertion_quotes_what_the_product_says():
    texts_of_all = "\n".join(
        " ".join(form.split()) for forms in said_now().values() for form in forms
    )
    quoted = [
        f"{file.relative_to(PROJECT)}:{line} {words!r}"
        for file in sorted((PROJECT / "tests").rglob("test_*.py"))
        for line, words in _words_of_assertions(file)
        if " ".join(words.split()) in texts_of_all
    ]
    assert quoted == [], "name the text: `says(page, NAME, …)`"


def _words_of_assertions(file: Path) -> list[tuple[int, str]]:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    asserted = (node.test for node in ast.walk(tree) if isinstance(node, ast.Assert))
    return [
        (part.lineno, part.value)
        for test in asserted
        for part in ast.walk(test)
        if isinstance(part, ast.Constant)
        and isinstance(part.value, str)
        and len(part.value.split()) >= 4
        and re.search("[a-z] [a-z]", part.value)
    ]


def test_content_files_are_read_by_the_area_they_are_of():
    names = content_texts()
    assert {name.partition("/")[0] for name in names} == {"jobs", "traces"}


PEEL = say("{name} is low in {count} of {all}", name="3", count=5, all=6)


@pytest.fixture
def known(monkeypatch: pytest.MonkeyPatch) -> None:
    forms = {
        "a.low": ["{name} is low in {count} of {all}"],
        "a.left": ["one is left", "{count} are left"],
        "a.page": ["%(who)s saved 100 %% of it, and “%(what)s”."],
    }
    monkeypatch.setattr("tests.wording.texts", lambda: forms)


def test_what_fills_a_text_is_compared(known):
    assert says(PEEL, "a.low")
    assert says(PEEL, "a.low", name=3, count=5)
    assert not says(PEEL, "a.low", count=6)
    assert not says("3 is high in 5 of 6", "a.low")
    with pytest.raises(LookupError):
        says(PEEL, "a.low", number=3)


def test_more_than_a_text_is_more(known):
    told = f"cylinder {PEEL} cycles"
    assert says(told, "a.low", name=3, all=6)
    assert says_only(PEEL, "a.low", name=3, all=6)
    assert not says_only(told, "a.low", name="cylinder 3", all=6)


def test_either_form_of_a_plural_is_the_text(known):
    one, more = (say_count("one is left", "{count} are left", n) for n in (1, 3))
    assert says_only(one, "a.left")
    assert says_only(more, "a.left", count=3)
    assert not says(one, "a.left", count=3)
    assert wording("a.left", count=3) == "3 are left"
    assert wording("a.left", count=1) == "one is left"


def test_a_page_is_read_as_people_read_it(known):
    page = "<p>Olive\n saved 100 % of it, and “B&amp;B&#x27;s”.</p>"
    assert says(page, "a.page", who="Olive", what="B&B's")
    assert says(page, "a.page", what="B&amp;B&#x27;s")
    assert says(["nothing", page], "a.page", who="Olive")
    assert not says(["nothing"], "a.page")


def test_a_file_is_written_as_it_is_read(tmp_path, monkeypatch):
    before = texts()
    file = tmp_path / "texts.toml"
    monkeypatch.setattr("tests.wording.__main__.TEXTS", file)
    write(before)
    monkeypatch.setattr("tests.wording.TEXTS", file)
    assert texts.__wrapped__() == before
