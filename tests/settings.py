"""Settings of the test run: the real ones, on a folder of their own.

With DATABASE_URL and BROKER_URL in the environment the same suite runs on those servers. Each
process of a parallel run has its own folder, and with it its own database file, uploads and
queue; on servers its own database (pytest-django names it) and its own Redis database.
"""

import atexit
import os
import shutil
import tempfile
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

# Processes share the machine's cores already; threads inside each would only wait for another.
for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

if "SHOPDIAG_TEST_DATA" not in os.environ:
    _folder = tempfile.mkdtemp(prefix="shopdiag-test-")
    # Processes that tests start inherit the folder but must not remove it.
    os.environ["SHOPDIAG_TEST_DATA"] = _folder
    atexit.register(shutil.rmtree, _folder, ignore_errors=True)
_process = os.environ.get("PYTEST_XDIST_WORKER", "")
os.environ["DATA_DIR"] = str(Path(os.environ["SHOPDIAG_TEST_DATA"]) / (_process or "alone"))

from shopdiag.settings import *  # noqa: E402, F403
from shopdiag.settings import BROKER_URL, DATA_DIR, DATABASES  # noqa: E402

if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # A file, because workers and live servers are other processes and threads.
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / "test.sqlite3")}

if BROKER_URL.startswith("redis") and _process:
    # One row's number means another row in another process: no message may cross over.
    _url = urlsplit(BROKER_URL)
    _database = (int(_url.path.strip("/") or 0) + int(_process.removeprefix("gw"))) % 16
    BROKER_URL = urlunsplit(_url._replace(path=f"/{_database}"))

# Hashing made cheap: the tests sign in hundreds of times.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

# Every test client would list all static files anew, which was half of the time of many tests.
# The list made at the start is what `manage.py start` serves in tests/shopdiag/test_start.py.
WHITENOISE_AUTOREFRESH = True
