"""What a web process loads before its first answer: nothing that only analyses need."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
# Over a second of processor time together at each start of each process.
ONLY_FOR_ANALYSES = {
    "pandas",
    "scipy.ndimage",
    "scipy.signal",
    "scipy.stats",
    "scipy.optimize",
    "scipy.interpolate",
    "traces.core.judging.pipeline",
    "traces.simulator",
}
_FIRST_ANSWER = """
import sys
import django
from django.conf import settings
django.setup()
from django.core.wsgi import get_wsgi_application
from django.test import Client
get_wsgi_application()
answer = Client().get("/api/schema/nowhere", headers={"Host": "localhost"})
assert answer.status_code == 404, answer.status_code
assert "jobs.views.work" in sys.modules, "the addresses were never loaded"
def loaded():
    print(*sorted(name for name in sys.modules if name in set(sys.argv[1].split(","))))
loaded()
import traces.tasks
loaded()
"""


def test_the_web_process_answers_without_the_analysis(tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", _FIRST_ANSWER, ",".join(sorted(ONLY_FOR_ANALYSES))],
        cwd=ROOT,
        env={
            **{k: v for k, v in os.environ.items() if k not in {"DATABASE_URL", "BROKER_URL"}},
            "DATA_DIR": str(tmp_path),
            "DJANGO_SETTINGS_MODULE": "shopdiag.settings",
        },
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    of_the_answer, of_the_worker = done.stdout.splitlines()
    assert of_the_answer.split() == []
    # What this relies on: an analysis loads them.
    assert "traces.core.judging.pipeline" in of_the_worker.split()
