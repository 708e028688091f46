"""What each page costs the server, on the demo's shop: `python -m bench.pages`.

The demo is loaded into a folder that is removed again, its captures are analysed, and each page is
asked for through the whole of the service but the wire: the median of some rounds, and the bytes.
"""

import importlib
import os
import tempfile

import django


def main() -> None:
    """Run from the command line."""
    with tempfile.TemporaryDirectory() as made:
        # a service of its own: never the data or the servers of the one on this machine
        for name in ("DATABASE_URL", "BROKER_URL", "MEDIA_ROOT"):
            os.environ.pop(name, None)
        os.environ["DATA_DIR"] = made
        os.environ["DJANGO_SETTINGS_MODULE"] = "shopdiag.settings"
        django.setup()
        importlib.import_module("bench.paging").table()


if __name__ == "__main__":
    main()
