"""Settings of the test run: the real ones, on a folder of their own.

With DATABASE_URL and BROKER_URL in the environment the same suite runs on those servers.
"""

import atexit
import os
import shutil
import tempfile

if "SHOPDIAG_TEST_DATA" not in os.environ:
    _folder = tempfile.mkdtemp(prefix="shopdiag-test-")
    # Processes that tests start inherit the folder but must not remove it.
    os.environ["SHOPDIAG_TEST_DATA"] = _folder
    atexit.register(shutil.rmtree, _folder, ignore_errors=True)
os.environ["DATA_DIR"] = os.environ["SHOPDIAG_TEST_DATA"]

from shopdiag.settings import *  # noqa: F403
from shopdiag.settings import DATA_DIR, DATABASES

if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # A file, because workers and live servers are other processes and threads.
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / "test.sqlite3")}

# Hashing made cheap: the tests sign in hundreds of times.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
