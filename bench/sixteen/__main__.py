"""Print the table of the sixteen vehicles: `python -m bench.sixteen`, `--write` into the docs.

A shop of its own is made in a folder that is removed again; no worker is needed, because the
captures are simulated and analysed here (about 20 s).
"""

import argparse
import importlib
import os
import tempfile
from pathlib import Path

import django

DOCS = Path(__file__).parents[2] / "docs" / "sixteen.md"


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help=f"write {DOCS.name} anew")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        # a service of its own: never the data or the servers of the one on this machine
        for name in ("DATABASE_URL", "BROKER_URL", "MEDIA_ROOT"):
            os.environ.pop(name, None)
        os.environ["DATA_DIR"] = made
        os.environ["DJANGO_SETTINGS_MODULE"] = "shopdiag.settings"
        django.setup()
        text = importlib.import_module("bench.sixteen.table").table()
    if asked.write:
        DOCS.write_text(text, encoding="utf-8")
    else:
        print(text)  # noqa: T201 - the table


if __name__ == "__main__":
    main()
