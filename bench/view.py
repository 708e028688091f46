"""What a view of a curve costs the server: a recording of 100 M samples of two channels.

`python -m bench.view` keeps such a recording, with a judged crank in it, in a folder that is
removed again, and asks the service itself for views from the whole to single samples: the
member's session, permission, database, samples, JSON and packing, all but the wire. `--quick`
takes a tenth of the samples.
"""

import argparse
import importlib
import os
import sys
import tempfile
from pathlib import Path

import django


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--samples", type=float, default=100e6, help="of each channel")
    parser.add_argument("--folder", type=Path, help="where the recording is kept for a while")
    parser.add_argument("--quick", action="store_true", help="a tenth of the samples")
    # what the other benches are told is of no interest here
    chosen, _ = parser.parse_known_args(arguments)
    samples = int(chosen.samples / (10 if chosen.quick else 1))
    with tempfile.TemporaryDirectory(dir=chosen.folder) as made:
        # a service of its own: never the data or the servers of the one on this machine
        for name in ("DATABASE_URL", "BROKER_URL", "MEDIA_ROOT"):
            os.environ.pop(name, None)
        os.environ["DATA_DIR"] = made
        os.environ["DJANGO_SETTINGS_MODULE"] = "shopdiag.settings"
        django.setup()
        importlib.import_module("bench.viewing").table(samples)


if __name__ == "__main__":
    main(sys.argv[1:])
