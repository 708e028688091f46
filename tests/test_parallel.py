"""What a parallel run of the tests keeps together and apart."""

import os
from pathlib import Path

import pytest
from django.conf import settings

from tests.conftest import TogetherByFile, starts_workers


@pytest.mark.parametrize(
    ("nodeid", "together"),
    [
        ("tests/people/test_roles.py::test_a[x@y::z]", "tests/people/test_roles.py"),
        ("tests/traces/test_queue.py::test_b", "queue"),
        ("tests/shopdiag/test_start.py::test_c", "queue"),
        ("tests/jobs/test_job_page_browser.py::test_d", "demo"),
        ("tests/jobs/test_capture_page_browser.py::test_e", "demo"),
    ],
)
def test_files_stay_whole_and_those_with_workers_stay_together(nodeid, together):
    scheduler = TogetherByFile.__new__(TogetherByFile)
    assert scheduler._split_scope(nodeid) == together


def test_files_that_ask_for_a_worker_are_told_by_their_mark(request):
    marked = {
        item.path.relative_to(Path(__file__).parents[1]).as_posix()
        for item in request.session.items
        if item.get_closest_marker("queue")
    }
    assert all(starts_workers(file) for file in marked)


def test_each_process_has_its_own_folder():
    process = os.environ.get("PYTEST_XDIST_WORKER", "alone")
    assert settings.DATA_DIR.name == process
    assert Path(os.environ["SHOPDIAG_TEST_DATA"]) == settings.DATA_DIR.parent
