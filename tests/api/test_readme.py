"""The README's example does what it says, against a live server with a real worker."""

import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from jobs.models import TroubleCode, Visit, WorkOrder
from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member, User
from tests.conftest import Cast
from tests.traces.conftest import reference
from tests.traces.test_queue import worker
from tests.traces.worker_process import ROOT, WorkerProcess, environment, wait_until
from traces.models import Run
from traces.runs.presence import is_worker_there

__all__ = ["worker"]

pytestmark = [pytest.mark.queue, pytest.mark.django_db(transaction=True)]


def example() -> str:
    """Return the shell commands under the README's mark for the API."""
    text = (ROOT / "README.md").read_text().partition("## For programs")[2]
    found = re.search(r"```sh\n(.*?)```", text, re.DOTALL)
    assert found
    return found[1]


def test_the_example_does_the_whole_job(
    *,
    worker: WorkerProcess,
    live_server: Any,
    cast: Cast,
    media: Path,
    settings: Any,
    tmp_path: Path,
):
    if shutil.which("curl") is None:
        if os.environ.get("CI"):
            pytest.fail("CI must have curl; .ci/run installs it.")
        pytest.skip("curl is not installed; the example needs it")
    settings.DEBUG = False
    capture = reference("ref-01.csv")
    # The example signs in as the demo shop's diagnostician.
    person = User.objects.create(username="demo-diag", name="Dee Demo")
    Member.objects.create(shop=cast.shop, user=person, role=Role.DIAGNOSTICIAN)
    worker.start()
    wait_until(is_worker_there, "no worker said that it is there")

    script = tmp_path / "example.sh"
    script.write_text(example())
    ran = subprocess.run(
        ["bash", "-euo", "pipefail", str(script)],
        cwd=ROOT,
        env={
            **environment(media),
            "API": f"{live_server.url}/api",
            "RECORDING": str(capture),
            "no_proxy": "*",
        },
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr

    visit = Visit.objects.get()
    assert (visit.stage, visit.vehicle.plate) == ("closed", "QX 71 RTL")
    assert TroubleCode.objects.get().code == "P0301"
    run = Run.objects.get()
    # The reference's own truth: cylinder 1 is low.
    assert (run.state, run.verdict, run.attempts) == ("done", "uneven", 1)
    order = WorkOrder.objects.get()
    assert (order.state, order.cylinders, order.judgement.run) == ("done", [1], run)
    assert order.findings.get().pressure_kpa == 640
    assert visit.outcome.verified == "yes"
    assert visit.closed_at is not None
