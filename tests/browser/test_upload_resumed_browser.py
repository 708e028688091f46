"""Uploads that were begun before: gone on with, given up, cancelled, cleared away."""

import os
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Dialog, Page, Route, expect

from jobs.models import Visit
from tests.browser.lines import Line
from tests.browser.upload_page import (
    PART,
    check_arrived,
    held_up,
    line_of,
    open_form,
    send,
)
from tests.conftest import Cast, sign_in_by_form
from traces.models import Capture, Upload
from traces.runs.uploads import uploads_clear
from traces.uploads.files import uploads_folder

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_after_a_reload_the_same_file_goes_on_where_it_was(
    card: Page,
    recording: Path,
    visit,
):
    line = held_up(card, recording)
    asked: list[str] = []

    def leave(dialog: Dialog) -> None:
        asked.append(dialog.type)
        dialog.accept()

    card.on("dialog", leave)
    open_form(card, visit)
    assert asked == ["beforeunload"]
    line.cut_after = None
    open_form(card, visit)
    expect(line_of(card)).to_contain_text("0.9 MB of 3.0 MB are here; choose the same file again")
    send(card, recording)
    check_arrived(card, recording)
    assert line.parts[3][0] == 3 * PART
    assert Upload.objects.count() == 1


def test_a_server_that_cannot_be_asked_just_now_is_asked_again(card: Page, recording: Path):
    """What is there is not begun anew because a proxy had nobody to ask."""
    line = held_up(card, recording)
    refused: list[str] = []

    def proxy(route: Route) -> None:
        if route.request.method == "HEAD" and not refused:
            refused.append(route.request.url)
            route.fulfill(status=503)
        else:
            route.fallback()

    card.route(re.compile("/api/uploads/."), proxy)
    line.cut_after = None
    line_of(card).get_by_role("button", name="Try now").click()
    check_arrived(card, recording)
    assert len(refused) == 1
    assert line.parts[3][0] == 3 * PART
    assert Upload.objects.count() == 1


def test_what_was_begun_is_seen_on_its_job_and_no_other(  # noqa: PLR0917 - fixtures
    card: Page,
    recording: Path,
    cast: Cast,
    take_in: Callable[..., Visit],
    four,
    visit,
):
    line = held_up(card, recording)
    card.on("dialog", lambda dialog: dialog.accept())
    other = take_in(cast.writer, engine=four)
    card.goto(f"/jobs/{other.pk}/")
    line.cut_after = None
    card.reload(wait_until="networkidle")
    expect(card.locator("form[data-upload] .upload")).to_have_count(0)
    card.goto(f"/jobs/{visit.pk}/")
    # The fold opens by itself, or nobody would see it.
    expect(line_of(card)).to_be_visible()
    expect(line_of(card)).to_contain_text("choose the same file again")


def test_what_was_begun_before_can_be_given_up(
    card: Page,
    recording: Path,
    visit,
):
    line = held_up(card, recording)
    card.on("dialog", lambda dialog: dialog.accept())
    line.cut_after = None
    open_form(card, visit)
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
    visit,
):
    line = held_up(card, recording)
    card.on("dialog", lambda dialog: dialog.accept())
    open_form(card, visit)
    line.cut_after = None
    times = recording.stat()
    recording.write_bytes(recording.read_bytes().replace(b"0.017,17", b"0.017,18"))
    os.utime(recording, ns=(times.st_atime_ns, times.st_mtime_ns))
    assert recording.stat().st_size == times.st_size
    send(card, recording)
    expect(card.get_by_role("heading", name=recording.name)).to_be_visible()
    assert line.parts[3][0] == 0
    assert Path(Capture.objects.get().original.path).read_bytes() == recording.read_bytes()


def test_cancelling_leaves_nothing(card: Page, recording: Path):
    line = held_up(card, recording)
    assert len(list(uploads_folder().iterdir())) == 1
    line.cut_after = None
    with card.expect_response(lambda answer: answer.request.method == "DELETE"):
        line_of(card).get_by_role("button", name="Cancel").click()
    expect(line_of(card)).to_contain_text("Cancelled.")
    assert list(uploads_folder().iterdir()) == []
    assert not Upload.objects.exists()
    assert not Capture.objects.exists()
    assert card.evaluate("Object.keys(localStorage).filter(k => k.startsWith('tus::'))") == []
    # The file stays chosen, and may be sent after all.
    card.get_by_role("button", name="Upload").first.click()
    check_arrived(card, recording)


def test_a_file_that_waits_can_be_cancelled_too(card: Page, recording: Path, tmp_path: Path):
    second = tmp_path / "second.csv"
    second.write_text("time,A\n0,1\n" * 9)
    line = Line(card)
    line.cut_after = 3
    send(card, recording, second)
    expect(line_of(card)).to_contain_text("Connection lost")
    card.get_by_role("button", name="Cancel second.csv").click()
    line.cut_after = None
    card.get_by_role("link", name="Go on with the file that is here").click()
    check_arrived(card, recording)


def test_an_upload_that_was_cleared_away_begins_anew_by_itself(card: Page, recording: Path):
    line = held_up(card, recording)
    Upload.objects.all().delete()
    assert uploads_clear() == 1
    line.cut_after = None
    line_of(card).get_by_role("button", name="Try now").click()
    check_arrived(card, recording)
    assert [start for start, _ in line.parts[3:] if start == 0]


def test_somebody_who_is_signed_out_signs_in_again_and_goes_on(
    card: Page, recording: Path, cast: Cast
):
    line = held_up(card, recording)
    kept = card.context.cookies()
    card.context.clear_cookies()
    line.cut_after = None
    line_of(card).get_by_role("button", name="Try now").click()
    expect(line_of(card)).to_contain_text("You are signed out")
    # Signing in elsewhere renews the token that forms carry as well.
    other = card.context.new_page()
    sign_in_by_form(other, cast.diagnostician)
    renewed = {c["name"]: c["value"] for c in card.context.cookies()}
    assert renewed["csrftoken"] != {c["name"]: c["value"] for c in kept}["csrftoken"]
    line_of(card).get_by_role("button", name="Try now").click()
    check_arrived(card, recording)
