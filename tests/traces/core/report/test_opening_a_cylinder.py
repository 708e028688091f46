"""Whoever is told to open a cylinder and crank is told what must be off while it is open."""

import re
from pathlib import Path

from django.conf import settings

ASKS = re.compile(r"hump\s+(drops|goes|that drops)|\bwhose\s+hump", re.IGNORECASE)


def _paragraphs() -> dict[str, str]:
    """Return every text of the content files that names the way to find a cylinder by its hump."""
    found = {}
    for path in sorted(Path(settings.BASE_DIR).glob("*/**/texts/*.toml")):
        for at, text in enumerate(re.findall(r'"""(.*?)"""', path.read_text("utf-8"), re.DOTALL)):
            if ASKS.search(text):
                found[f"{path.name} {at}"] = " ".join(text.split())
    return found


def test_fuel_and_ignition_are_off_wherever_one_is_asked_for():
    texts = _paragraphs()
    assert len(texts) >= 4
    without = {name for name, text in texts.items() if "fuel and ignition both off" not in text}
    assert without == set()
