"""What the browser is given for the time without a connection."""

import json
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse

LANGUAGES = [code for code, _ in settings.LANGUAGES]


def kept(language: str) -> dict[str, object]:
    script = Client().get(reverse("service-worker"), {"language": language})
    assert script["Content-Type"].startswith("text/javascript")
    found = re.search(r"self\.KEPT = (\{.*\});", script.content.decode())
    assert found is not None
    constants: dict[str, object] = json.loads(found[1])
    return constants


def test_the_worker_stands_at_the_root():
    # Its scope is the folder it lies in (W3C “Service Workers”, section 3.4).
    assert reverse("service-worker") == "/service-worker.js"


@pytest.mark.parametrize("language", LANGUAGES)
def test_all_that_the_page_needs_is_kept(db, language):
    named = kept(language)
    assert named["page"] == f"/offline/?language={language}"
    files = named["files"]
    assert isinstance(files, list)
    assert "/static/js/words.js" in files
    assert any("/texts.js?" in address for address in files) == (language != "en")
    for address in files:
        if address.startswith("/static/"):
            assert finders.find(address.removeprefix("/static/")), address
        else:
            assert Client().get(address).status_code == 200


def test_modules_that_modules_import_are_kept_too(db):
    files = kept("en")["files"]
    assert isinstance(files, list)
    for address in files:
        if address.endswith(".js") and "/js/" in address:
            script = Path(str(finders.find(address.removeprefix("/static/"))))
            for name in re.findall(r'from "\./([\w-]+\.js)"', script.read_text(encoding="utf-8")):
                assert f"/static/js/{name}" in files, f"{address} imports {name}"


def test_each_language_is_a_version_of_its_own(db):
    assert len({kept(language)["version"] for language in LANGUAGES}) == len(LANGUAGES)


@pytest.mark.parametrize("asked", ["xx", "", "../es"])
def test_an_unknown_language_is_english(db, asked):
    assert kept(asked)["page"] == "/offline/?language=en"


def test_the_page_names_nobody(cast, client_for):
    """It is kept on a device that several people use."""
    page = client_for(cast.owner).get(reverse("offline"), {"language": "en"})
    text = page.content.decode()
    for word in (cast.shop.name, cast.owner.name, cast.owner.user.get_short_name()):
        assert word not in text
    assert "csrftoken" not in page.cookies
    assert text == Client().get(reverse("offline"), {"language": "en"}).content.decode()
