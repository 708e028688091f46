"""Sending large files from a browser: lost lines, broken parts, a full disk, no script."""

import re
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from playwright.sync_api import Page, Route, expect

from jobs.services.captures import visit_captures_add
from tests.browser.lines import Line, Slow, Wire
from tests.browser.upload_page import (
    PART,
    WITHIN_MS,
    check_arrived,
    line_of,
    open_form,
    send,
)
from tests.conftest import Cast, sign_in_by_form
from traces.models import Capture, Upload
from traces.uploads.files import NoRoomError

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_file_comes_in_parts_and_the_very_bytes_are_here(card: Page, recording: Path):
    complaints: list[str] = []
    card.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    card.on("pageerror", lambda error: complaints.append(str(error)))
    line = Line(card)
    send(card, recording)
    check_arrived(card, recording)
    size = recording.stat().st_size
    assert len(line.parts) == -(-size // PART)
    assert line.parts[0] == (0, PART)
    assert complaints == []
    # What the browser says of the whole was held against what arrived.
    assert Upload.objects.get().sha256 == Capture.objects.get().sha256


def test_several_small_files_go_the_same_way(card: Page, tmp_path: Path, visit):
    paths = [tmp_path / f"{n}.csv" for n in range(3)]
    for n, path in enumerate(paths):
        path.write_text("time,A\n" + f"0,{n}\n" * 50)
    send(card, *paths)
    expect(card.get_by_text("File 1 of 3")).to_be_visible()
    assert Capture.objects.count() == 3


def test_an_upload_leads_to_the_first_file_that_is_new(
    card: Page,
    tmp_path: Path,
    visit,
):
    paths = [tmp_path / f"crank {n}.csv" for n in range(3)]
    for n, path in enumerate(paths):
        path.write_text("time,clamp\n" + "".join(f"{i},{i % (5 + n)}\n" for i in range(500)))
    send(card, paths[0])
    expect(card.get_by_role("heading", name=paths[0].name)).to_be_visible(timeout=WITHIN_MS)
    open_form(card, visit)
    send(card, *paths)
    expect(card.get_by_role("heading", name=paths[1].name)).to_be_visible(timeout=WITHIN_MS)
    expect(card.locator("#batch")).to_contain_text("File 1 of 2")


def test_a_refused_file_is_in_sight(card: Page, tmp_path: Path, cast: Cast, take_in):
    path = tmp_path / "crank.csv"
    path.write_text("time,clamp\n" + "".join(f"{i},{i % 7}\n" for i in range(500)))
    elsewhere = SimpleUploadedFile(path.name, path.read_bytes())
    visit_captures_add(visit=take_in(cast.writer), member=cast.diagnostician, uploads=[elsewhere])
    card.set_viewport_size({"width": 390, "height": 844})
    send(card, path)
    refused = card.locator(".upload-failed")
    expect(refused).to_be_focused(timeout=WITHIN_MS)
    expect(refused).to_be_in_viewport()


def test_a_refused_form_leads_to_the_message_whatever_the_address_names(card: Page, visit):
    """As where a plain form was refused and led back to a place far down."""
    card.locator("form[data-upload]").first.evaluate(
        """form => { form.removeAttribute("data-upload");
             form.querySelector("input[type=file]").required = false;
             HTMLFormElement.prototype.submit.call(form); }"""
    )
    told = card.locator("main .message-error")
    expect(told).to_be_focused()
    expect(told).to_be_in_viewport()


def test_a_cut_line_is_told_and_the_rest_goes_on_by_itself(card: Page, recording: Path):
    line = Line(card)
    line.cut_after = 4
    send(card, recording)
    state = line_of(card).locator(".upload-state")
    expect(state).to_contain_text("Connection lost at 1.2 MB of")
    expect(state).to_contain_text("goes on by itself within")
    assert line.parts[-1][0] == 3 * PART
    line.cut_after = None
    check_arrived(card, recording)
    # What had arrived was not sent again, and smaller parts came first after the loss.
    start, stop = line.parts[4]
    assert start == 4 * PART
    assert stop - start < PART


def test_a_wire_that_breaks_within_a_part_loses_only_that_part(
    card: Page,
    live_server,
    recording: Path,
    cast: Cast,
    visit,
):
    wire = Wire(int(live_server.url.rpartition(":")[2]))
    try:
        sign_in_by_form(card, cast.diagnostician, f"http://127.0.0.1:{wire.port}")
        open_form(card, visit, f"http://127.0.0.1:{wire.port}")
        wire.break_after(1_000_000)
        send(card, recording)
        state = line_of(card).locator(".upload-state")
        expect(state).to_contain_text("Connection lost")
        assert wire.broken.is_set()
        held = Upload.objects.get().received_bytes
        # Whole parts only; the fourth was cut in its middle.
        assert held == 3 * PART
        wire.mend()
        line_of(card).get_by_role("button", name="Try now").click()
        check_arrived(card, recording)
    finally:
        wire.close()


def test_a_browser_without_network_goes_on_when_it_is_back(card: Page, recording: Path):
    slow = Slow(card)
    send(card, recording)
    expect(line_of(card).locator(".upload-state")).to_contain_text(
        re.compile(r"MB of \d\.\d MB \([2-9]\d %\), \d\.\d MB a second, \d+ s left"),
        timeout=WITHIN_MS,
    )
    slow.offline(gone=True)
    expect(line_of(card).locator(".upload-state")).to_contain_text("Connection lost")
    held = Upload.objects.get().received_bytes
    assert 0 < held < recording.stat().st_size
    slow.offline(gone=False)
    check_arrived(card, recording)


def test_a_full_disk_is_told_and_sending_goes_on_when_there_is_room(
    card: Page, recording: Path, monkeypatch
):
    def full(*_: object) -> None:
        raise NoRoomError

    with monkeypatch.context() as patch:
        patch.setattr("traces.services.uploads.content_write", full)
        send(card, recording)
        expect(line_of(card)).to_contain_text("The server's disk is full")
    line_of(card).get_by_role("button", name="Try now").click()
    check_arrived(card, recording)


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
    send(card, recording)
    check_arrived(card, recording)
    assert len(changed) == 2


def test_a_file_of_another_job_need_not_be_sent_twice(
    card: Page,
    recording: Path,
    take_in,
    cast: Cast,
):
    other = take_in(cast.writer)
    there = SimpleUploadedFile("there.csv", recording.read_bytes())
    visit_captures_add(visit=other, member=cast.diagnostician, uploads=[there])
    line = Line(card)
    send(card, recording)
    expect(line_of(card)).to_contain_text("keep it here too")
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
    send(plain, recording)
    expect(plain.get_by_role("heading", name=recording.name)).to_be_visible(timeout=WITHIN_MS)
    assert Path(Capture.objects.get().original.path).read_bytes() == recording.read_bytes()
