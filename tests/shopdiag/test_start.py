"""`manage.py start`, as a person starts and stops it."""

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.shopdiag.migrated import migrated, outside

ROOT = Path(__file__).parents[2]
pytestmark = [
    pytest.mark.queue,
    pytest.mark.skipif(sys.platform == "win32", reason="process groups are POSIX"),
]


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


def environment(data_dir, port):
    return outside(data_dir, PORT=str(port), PYTHONUNBUFFERED="1")


def processes_naming(marker):
    """Process ids whose environment holds `marker` (Linux only)."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            if marker.encode() in (folder / "environ").read_bytes():
                found.append(int(folder.name))
        except OSError:
            continue
    return found


def wait_for(condition, seconds=60.0):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        value = condition()
        if value:
            return value
        time.sleep(0.1)
    raise AssertionError("waited in vain")


def answers(port):
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/healthz", timeout=2) as response:
            return response.status == 200
    except OSError:
        return False


@contextmanager
def running(data_dir, more):
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, "manage.py", "start", "--no-demo"],
        cwd=ROOT,
        env=environment(data_dir, port) | more,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    )
    assert process.stdout
    try:
        wait_for(lambda: answers(port) or process.poll() is not None)
        assert process.poll() is None, process.stdout.read()
        yield process, port, data_dir
    finally:
        if process.poll() is None:
            process.kill()
        process.stdout.close()
        process.wait()


@pytest.fixture
def started(request, tmp_path):
    data_dir = tmp_path / "data"
    shutil.copytree(migrated(), data_dir)
    with running(data_dir, getattr(request, "param", {})) as found:
        yield found


def worker_pids(data_dir, parent):
    marker = f"DATA_DIR={data_dir}"
    return [pid for pid in processes_naming(marker) if pid != parent]


@pytest.mark.skipif(not Path("/proc").exists(), reason="looks into /proc")
def test_a_killed_worker_is_started_again_and_ctrl_c_leaves_no_process_behind(started):
    process, port, data_dir = started
    first = wait_for(lambda: worker_pids(data_dir, process.pid))
    for pid in first:
        os.kill(pid, signal.SIGKILL)
    assert wait_for(lambda: set(worker_pids(data_dir, process.pid)) - set(first))
    process.send_signal(signal.SIGINT)
    output, _ = process.communicate(timeout=30)
    assert process.returncode == 0, output
    assert f"http://localhost:{port}/" in output
    assert output.rstrip().endswith("Stopped.")
    assert not processes_naming(f"DATA_DIR={data_dir}")


@pytest.fixture
def started_on_nothing(tmp_path):
    with running(tmp_path, {}) as found:
        yield found


def test_an_empty_start_leads_to_the_first_run_page(started_on_nothing):
    _process, port, _data_dir = started_on_nothing
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=10) as response:
        page = response.read().decode()
    assert re.search(r"<h1[^>]*>[^<]*shop", page, re.IGNORECASE)
    # static files as well, from the list made at the start
    sheet = re.search(r'href="(/static/[^"]+\.css)"', page)
    assert sheet
    address = f"http://127.0.0.1:{port}{sheet[1]}"
    with urllib.request.urlopen(address, timeout=10) as response:
        assert response.headers["Content-Type"].startswith("text/css")
        assert response.read()


def test_a_taken_port_is_one_sentence(tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        done = subprocess.run(
            [sys.executable, "manage.py", "start", "--no-demo"],
            cwd=ROOT,
            env=environment(tmp_path, port),
            capture_output=True,
            text=True,
            check=False,
        )
    assert done.returncode == 1
    assert f"Port {port} is taken" in done.stderr
    assert "Traceback" not in done.stderr


class NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_args):
        return None


def status_of(port, headers):
    address = f"http://127.0.0.1:{port}/people/first-run/"
    asked = urllib.request.Request(address, headers=headers)
    try:
        with urllib.request.build_opener(NoRedirect).open(asked, timeout=10) as response:
            return response.status
    except urllib.error.HTTPError as answer:
        with answer:
            return answer.code


@pytest.mark.skipif(not Path("/proc").exists(), reason="looks into /proc")
@pytest.mark.parametrize("started", [{"HTTPS": "1"}], indirect=True)
def test_a_proxy_that_ends_https_is_believed_and_the_worker_leaves_a_killed_start(started):
    process, port, data_dir = started
    assert status_of(port, {}) == 301
    assert status_of(port, {"X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.7"}) == 200
    wait_for(lambda: worker_pids(data_dir, process.pid))
    process.kill()
    process.wait()
    wait_for(lambda: not processes_naming(f"DATA_DIR={data_dir}"))
