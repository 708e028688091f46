"""What browsers ask before they offer to install the service as an app."""

import json
from pathlib import Path

from django.contrib.staticfiles import finders
from django.urls import reverse


def test_every_page_names_a_manifest_whose_icon_is_there(client, db):
    page = client.get(reverse("people:sign-in"), follow=True).content.decode()
    assert 'rel="manifest"' in page
    where = finders.find("app/app.webmanifest")
    manifest = json.loads(Path(str(where)).read_text(encoding="utf-8"))
    assert (manifest["start_url"], manifest["scope"]) == ("/", "/")
    assert manifest["display"] == "standalone"
    for icon in manifest["icons"]:
        assert icon["src"].startswith("../")
        assert finders.find(icon["src"].removeprefix("../"))
