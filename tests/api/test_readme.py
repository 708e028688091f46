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
from traces.models import Capture, Run, Upload
from traces.runs.presence import is_worker_there
from traces.uploads.files import PART_BYTES

__all__ = ["worker"]

pytestmark = [pytest.mark.queue, pytest.mark.django_db(transaction=True)]


def examples() -> list[str]:
    """Return the shell commands under the README's mark for the API: a whole job, a large file."""
    text = (ROOT / "README.md").read_text().partition("## For programs")[2]
    found = re.findall(r"```sh\n(.*?)```", text.partition("\n## ")[0], re.DOTALL)
    assert len(found) == 2
    return found


def run(script: str, folder: Path, **variables: str) -> None:
    """Run shell commands from the project's folder, as the README says."""
    for program in ("curl", "openssl"):
        if program in script and shutil.which(program) is None:
            if os.environ.get("CI"):
                pytest.fail(f"CI must have {program}; .ci/run installs it.")
            pytest.skip(f"{program} is not installed; the example needs it")
    file = folder / "example.sh"
    file.write_text(script)
    ran = subprocess.run(
        ["bash", "-euo", "pipefail", str(file)],
        cwd=ROOT,
        env={**environment(folder / "files"), "no_proxy": "*", **variables},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr


def sign_up(cast: Cast) -> Member:
    """The examples sign in as the demo shop's diagnostician."""
    person = User.objects.create(username="demo-diag", name="Dee Demo")
    return Member.objects.create(shop=cast.shop, user=person, role=Role.DIAGNOSTICIAN)


def test_the_example_does_the_whole_job(
    *,
    worker: WorkerProcess,
    live_server: Any,
    cast: Cast,
    media: Path,
    settings: Any,
    tmp_path: Path,
):
    settings.DEBUG = False
    sign_up(cast)
    worker.start()
    wait_until(is_worker_there, "no worker said that it is there")

    run(
        examples()[0],
        tmp_path,
        API=f"{live_server.url}/api",
        RECORDING=str(reference("ref-01.csv")),
    )

    visit = Visit.objects.get()
    assert (visit.stage, visit.vehicle.plate) == ("closed", "QX 71 RTL")
    assert TroubleCode.objects.get().code == "P0301"
    analysed = Run.objects.get()
    # The reference's own truth: cylinder 1 is low.
    assert (analysed.state, analysed.verdict, analysed.attempts) == ("done", "uneven", 1)
    order = WorkOrder.objects.get()
    assert (order.state, order.cylinders, order.judgement.run) == ("done", [1], analysed)
    assert order.findings.get().pressure_kpa == 640
    assert visit.outcome.verified == "yes"
    assert visit.closed_at is not None


def test_the_example_of_a_large_file_uploads_it_in_parts(
    *, live_server: Any, cast: Cast, media: Path, settings: Any, tmp_path: Path, take_in: Any
):
    settings.DEBUG = False
    visit = take_in(sign_up(cast))
    large = tmp_path / "large.csv"
    large.write_bytes(
        b"time,A\n" + b"".join(b"%d.%03d,1\n" % divmod(i, 1000) for i in range(2_000_000))
    )
    assert large.stat().st_size > 2 * PART_BYTES
    # Its helpers are the first example's, up to where the job begins.
    helpers = examples()[0].partition("# Intake")[0]
    script = f"{helpers}\njob=visits/{visit.pk}\n{examples()[1]}"
    run(script, tmp_path, API=f"{live_server.url}/api", LARGE=str(large))
    capture = Capture.objects.get()
    assert Path(capture.original.path).read_bytes() == large.read_bytes()
    assert capture.original_name == "large.csv"
    assert Upload.objects.get().finished_at is not None
