"""Sending large files from a browser: lost lines, a closed page, cancel, a file that is gone."""

import hashlib
import os
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from playwright.sync_api import Dialog, Locator, Page, Route, expect

from jobs.models import Visit
from jobs.services.evidence import visit_captures_add
from tests.browser.lines import Line, Slow, Wire
from tests.conftest import Cast, sign_in_by_form
from tests.jobs.conftest import four, take_in, visit  # noqa: F401 - fixtures
from tests.traces.conftest import media  # noqa: F401 - a fixture
from traces.models import Capture, Upload
from traces.runs.uploads import uploads_clear
from traces.uploads.files import NoRoomError, uploads_folder

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PART = 300_000
"""Parts of the tests: many for a small file, and no power of two."""
WITHIN_MS = 60_000


@pytest.fixture
def card(
    signed_in_page: Callable,
    cast: Cast,
    visit: Visit,  # noqa: F811
    media: Path,  # noqa: F811
    monkeypatch,
) -> Page:
    """The card of a job in its diagnostician's browser, with the upload form open."""
    monkeypatch.setattr("shopdiag.context.PART_BYTES", PART)
    page: Page = signed_in_page(cast.diagnostician)[0]
    _open(page, visit)
    return page


def _open(page: Page, job: Visit, server: str = "") -> None:
    page.goto(f"{server}/jobs/{job.pk}/")
    page.locator("details:has(form[data-upload])").first.evaluate("fold => { fold.open = true; }")


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    """A recording of three megabytes, every line another."""
    path = tmp_path / "long crank.csv"
    path.write_text("time,A\n" + "".join(f"{i / 1000:.3f},{i % 977}\n" for i in range(260_000)))
    return path


def _send(page: Page, *paths: Path) -> None:
    form = page.locator("form[data-upload]").first
    form.locator("input[type=file]").set_input_files(paths)
    form.get_by_role("button", name="Upload").click()


def _line(page: Page) -> Locator:
    return page.locator("form[data-upload] .upload").first


def _check_arrived(page: Page, path: Path) -> None:
    expect(page.get_by_role("heading", name=path.name)).to_be_visible(timeout=WITHIN_MS)
    capture = Capture.objects.get()
    content = path.read_bytes()
    assert Path(capture.original.path).read_bytes() == content
    assert capture.sha256 == hashlib.sha256(content).hexdigest()
    assert list(uploads_folder().iterdir()) == []
    assert page.evaluate("Object.keys(localStorage).filter(k => k.startsWith('tus::'))") == []


def test_a_file_comes_in_parts_and_the_very_bytes_are_here(card: Page, recording: Path):
    complaints: list[str] = []
    card.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    card.on("pageerror", lambda error: complaints.append(str(error)))
    line = Line(card)
    _send(card, recording)
    _check_arrived(card, recording)
    size = recording.stat().st_size
    assert len(line.parts) == -(-size // PART)
    assert line.parts[0] == (0, PART)
    assert complaints == []
    # What the browser says of the whole was held against what arrived.
    assert Upload.objects.get().sha256 == Capture.objects.get().sha256


def test_several_small_files_go_the_same_way(card: Page, tmp_path: Path, visit):  # noqa: F811
    paths = [tmp_path / f"{n}.csv" for n in range(3)]
    for n, path in enumerate(paths):
        path.write_text("time,A\n" + f"0,{n}\n" * 50)
    _send(card, *paths)
    expect(card.get_by_text("say next how")).to_have_count(3)
    assert Capture.objects.count() == 3


def test_an_upload_leads_to_the_first_file_that_is_new(
    card: Page,
    tmp_path: Path,
    visit,  # noqa: F811
):
    paths = [tmp_path / f"crank {n}.csv" for n in range(3)]
    for n, path in enumerate(paths):
        path.write_text("time,clamp\n" + "".join(f"{i},{i % (5 + n)}\n" for i in range(500)))
    _send(card, paths[0])
    expect(card.get_by_role("heading", name=paths[0].name)).to_be_visible(timeout=WITHIN_MS)
    _open(card, visit)
    _send(card, *paths)
    expect(card.get_by_role("heading", name=paths[1].name)).to_be_visible(timeout=WITHIN_MS)
    expect(card.locator("#batch")).to_contain_text("File 1 of 2")


def test_a_cut_line_is_told_and_the_rest_goes_on_by_itself(card: Page, recording: Path):
    line = Line(card)
    line.cut_after = 4
    _send(card, recording)
    state = _line(card).locator(".upload-state")
    expect(state).to_contain_text("Connection lost at 1.2 MB of")
    expect(state).to_contain_text("goes on by itself within")
    assert line.parts[-1][0] == 3 * PART
    line.cut_after = None
    _check_arrived(card, recording)
    # What had arrived was not sent again, and smaller parts came first after the loss.
    start, stop = line.parts[4]
    assert start == 4 * PART
    assert stop - start < PART


def test_a_wire_that_breaks_within_a_part_loses_only_that_part(
    card: Page,
    live_server,
    recording: Path,
    cast: Cast,
    visit,  # noqa: F811
):
    wire = Wire(int(live_server.url.rpartition(":")[2]))
    try:
        sign_in_by_form(card, cast.diagnostician, f"http://127.0.0.1:{wire.port}")
        _open(card, visit, f"http://127.0.0.1:{wire.port}")
        wire.break_after(1_000_000)
        _send(card, recording)
        state = _line(card).locator(".upload-state")
        expect(state).to_contain_text("Connection lost")
        assert wire.broken.is_set()
        held = Upload.objects.get().received_bytes
        # Whole parts only; the fourth was cut in its middle.
        assert held == 3 * PART
        wire.mend()
        _line(card).get_by_role("button", name="Try now").click()
        _check_arrived(card, recording)
    finally:
        wire.close()


def test_a_browser_without_network_goes_on_when_it_is_back(card: Page, recording: Path):
    slow = Slow(card)
    _send(card, recording)
    expect(_line(card).locator(".upload-state")).to_contain_text(
        re.compile(r"MB of \d\.\d MB \([2-9]\d %\), \d\.\d MB a second, \d+ s left"),
        timeout=WITHIN_MS,
    )
    slow.offline(gone=True)
    expect(_line(card).locator(".upload-state")).to_contain_text("Connection lost")
    held = Upload.objects.get().received_bytes
    assert 0 < held < recording.stat().st_size
    slow.offline(gone=False)
    _check_arrived(card, recording)


def _held_up(page: Page, recording: Path) -> Line:
    """Send until the line is cut after three parts; the rest waits."""
    line = Line(page)
    line.cut_after = 3
    _send(page, recording)
    expect(_line(page).locator(".upload-state")).to_contain_text("Connection lost at 0.9 MB")
    return line


def test_after_a_reload_the_same_file_goes_on_where_it_was(
    card: Page,
    recording: Path,
    visit,  # noqa: F811
):
    line = _held_up(card, recording)
    asked: list[str] = []

    def leave(dialog: Dialog) -> None:
        asked.append(dialog.type)
        dialog.accept()

    card.on("dialog", leave)
    _open(card, visit)
    assert asked == ["beforeunload"]
    line.cut_after = None
    _open(card, visit)
    expect(_line(card)).to_contain_text("0.9 MB of 3.0 MB are here; choose the same file again")
    _send(card, recording)
    _check_arrived(card, recording)
    assert line.parts[3][0] == 3 * PART
    assert Upload.objects.count() == 1


def test_a_server_that_cannot_be_asked_just_now_is_asked_again(card: Page, recording: Path):
    """What is there is not begun anew because a proxy had nobody to ask."""
    line = _held_up(card, recording)
    refused: list[str] = []

    def proxy(route: Route) -> None:
        if route.request.method == "HEAD" and not refused:
            refused.append(route.request.url)
            route.fulfill(status=503)
        else:
            route.fallback()

    card.route(re.compile("/api/uploads/."), proxy)
    line.cut_after = None
    _line(card).get_by_role("button", name="Try now").click()
    _check_arrived(card, recording)
    assert len(refused) == 1
    assert line.parts[3][0] == 3 * PART
    assert Upload.objects.count() == 1


def test_what_was_begun_is_seen_on_its_job_and_no_other(  # noqa: PLR0917 - fixtures
    card: Page,
    recording: Path,
    cast: Cast,
    take_in: Callable[..., Visit],  # noqa: F811
    four,  # noqa: F811
    visit,  # noqa: F811
):
    line = _held_up(card, recording)
    card.on("dialog", lambda dialog: dialog.accept())
    other = take_in(cast.writer, engine=four)
    card.goto(f"/jobs/{other.pk}/")
    line.cut_after = None
    card.reload(wait_until="networkidle")
    expect(card.locator("form[data-upload] .upload")).to_have_count(0)
    card.goto(f"/jobs/{visit.pk}/")
    # The fold opens by itself, or nobody would see it.
    expect(_line(card)).to_be_visible()
    expect(_line(card)).to_contain_text("choose the same file again")


def test_what_was_begun_before_can_be_given_up(
    card: Page,
    recording: Path,
    visit,  # noqa: F811
):
    line = _held_up(card, recording)
    card.on("dialog", lambda dialog: dialog.accept())
    line.cut_after = None
    _open(card, visit)
    with card.expect_response(lambda answer: answer.request.method == "DELETE"):
        card.get_by_role("button", name="Give up long crank.csv").click()
    expect(card.locator("form[data-upload] .upload")).to_have_count(0)
    assert list(uploads_folder().iterdir()) == []
    assert not Upload.objects.exists()
    # What is not there any more is not offered either.
    assert card.evaluate("Object.keys(localStorage).filter(k => k.startsWith('tus::'))") == []


def test_another_file_of_that_name_size_and_date_begins_anew(
    card: Page,
    recording: Path,
    visit,  # noqa: F811
):
    line = _held_up(card, recording)
    card.on("dialog", lambda dialog: dialog.accept())
    _open(card, visit)
    line.cut_after = None
    times = recording.stat()
    recording.write_bytes(recording.read_bytes().replace(b"0.017,17", b"0.017,18"))
    os.utime(recording, ns=(times.st_atime_ns, times.st_mtime_ns))
    assert recording.stat().st_size == times.st_size
    _send(card, recording)
    expect(card.get_by_role("heading", name=recording.name)).to_be_visible()
    assert line.parts[3][0] == 0
    assert Path(Capture.objects.get().original.path).read_bytes() == recording.read_bytes()


def test_cancelling_leaves_nothing(card: Page, recording: Path):
    line = _held_up(card, recording)
    assert len(list(uploads_folder().iterdir())) == 1
    line.cut_after = None
    with card.expect_response(lambda answer: answer.request.method == "DELETE"):
        _line(card).get_by_role("button", name="Cancel").click()
    expect(_line(card)).to_contain_text("Cancelled.")
    assert list(uploads_folder().iterdir()) == []
    assert not Upload.objects.exists()
    assert not Capture.objects.exists()
    assert card.evaluate("Object.keys(localStorage).filter(k => k.startsWith('tus::'))") == []
    # The file stays chosen, and may be sent after all.
    card.get_by_role("button", name="Upload").first.click()
    _check_arrived(card, recording)


def test_a_file_that_waits_can_be_cancelled_too(card: Page, recording: Path, tmp_path: Path):
    second = tmp_path / "second.csv"
    second.write_text("time,A\n0,1\n" * 9)
    line = Line(card)
    line.cut_after = 3
    _send(card, recording, second)
    expect(_line(card)).to_contain_text("Connection lost")
    card.get_by_role("button", name="Cancel second.csv").click()
    line.cut_after = None
    card.get_by_role("link", name="Go on with the file that is here").click()
    _check_arrived(card, recording)


def test_an_upload_that_was_cleared_away_begins_anew_by_itself(card: Page, recording: Path):
    line = _held_up(card, recording)
    Upload.objects.all().delete()
    assert uploads_clear() == 1
    line.cut_after = None
    _line(card).get_by_role("button", name="Try now").click()
    _check_arrived(card, recording)
    assert [start for start, _ in line.parts[3:] if start == 0]


def test_somebody_who_is_signed_out_signs_in_again_and_goes_on(
    card: Page, recording: Path, cast: Cast
):
    line = _held_up(card, recording)
    kept = card.context.cookies()
    card.context.clear_cookies()
    line.cut_after = None
    _line(card).get_by_role("button", name="Try now").click()
    expect(_line(card)).to_contain_text("You are signed out")
    # Signing in elsewhere renews the token that forms carry as well.
    other = card.context.new_page()
    sign_in_by_form(other, cast.diagnostician)
    renewed = {c["name"]: c["value"] for c in card.context.cookies()}
    assert renewed["csrftoken"] != {c["name"]: c["value"] for c in kept}["csrftoken"]
    _line(card).get_by_role("button", name="Try now").click()
    _check_arrived(card, recording)


def test_a_full_disk_is_told_and_sending_goes_on_when_there_is_room(
    card: Page, recording: Path, monkeypatch
):
    def full(*_: object) -> None:
        raise NoRoomError

    with monkeypatch.context() as patch:
        patch.setattr("traces.services.uploads.content_write", full)
        _send(card, recording)
        expect(_line(card)).to_contain_text("The server's disk is full")
    _line(card).get_by_role("button", name="Try now").click()
    _check_arrived(card, recording)


def test_a_part_that_was_changed_on_its_way_is_sent_again(card: Page, recording: Path):
    changed: list[str] = []

    def spoil(route: Route) -> None:
        body = route.request.post_data_buffer
        if route.request.method == "PATCH" and body and len(changed) < 2:
            changed.append(route.request.headers["upload-offset"])
            route.continue_(post_data=b"x" + body[1:])
        else:
            route.continue_()

    card.route(re.compile("/api/uploads/."), spoil)
    _send(card, recording)
    _check_arrived(card, recording)
    assert len(changed) == 2


def test_a_file_of_another_job_need_not_be_sent_twice(
    card: Page,
    recording: Path,
    take_in,  # noqa: F811
    cast: Cast,
):
    other = take_in(cast.writer)
    there = SimpleUploadedFile("there.csv", recording.read_bytes())
    visit_captures_add(visit=other, member=cast.diagnostician, uploads=[there])
    line = Line(card)
    _send(card, recording)
    expect(_line(card)).to_contain_text("keep it here too")
    sent = len(line.parts)
    form = card.locator("form[data-upload]").first
    form.get_by_label("Keep it here too").check()
    form.get_by_role("button", name="Upload").click()
    expect(card.get_by_role("heading", name=recording.name)).to_be_visible()
    assert len(line.parts) == sent
    assert Capture.objects.count() == 2


@pytest.mark.parametrize("script", [False, True], ids=["no script", "a script lost"])
def test_without_script_the_form_posts_the_file(card: Page, recording: Path, open_page, script):
    plain, _ = open_page(java_script_enabled=script)
    plain.route("**/js/upload_sending*.js", lambda route: route.abort())
    plain.context.add_cookies(card.context.cookies())
    plain.goto(card.url)
    _send(plain, recording)
    expect(plain.get_by_role("heading", name=recording.name)).to_be_visible(timeout=WITHIN_MS)
    assert Path(Capture.objects.get().original.path).read_bytes() == recording.read_bytes()
