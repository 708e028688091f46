"""Several files of one upload: from one to the next, with the same set-up."""

from typing import Any
from uuid import uuid4

import pytest
from django.urls import reverse

from jobs.models import VisitCapture
from jobs.selectors.sent_together import batch_of
from tests.shopdiag.page_forms import filled, forms_to
from tests.traces.conftest import csv_bytes, upload_of
from traces.models import CaptureSetup, Run
from traces.runs.reading import reading_read

SETUP = {
    "scale": "10",
    "invert": "auto",
    "sync_event": "ignition",
    "sync_cylinder": "1",
    "sync_every": "720",
}


def _renamed(content: bytes, header: bytes) -> bytes:
    return content.replace(b"Time,clamp,coil", header)


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


@pytest.fixture
def upload(browser, triaged):
    """Send files with the form of the job's page; return their ties, read."""

    def go(*contents):
        address = reverse("jobs:visit", args=[triaged.pk])
        form = next(forms_to(browser.get(address), address, "jobs:capture-upload"))
        files = [upload_of(content, f"crank-{n}.csv") for n, content in enumerate(contents, 1)]
        before = set(VisitCapture.objects.values_list("pk", flat=True))
        answer = browser.post(form.action, filled(form, {"recordings": files}))
        ties = list(VisitCapture.objects.exclude(pk__in=before).order_by("pk"))
        for tie in ties:
            assert reading_read(tie.capture.reading.pk)
        return answer, ties

    return go


def _place(tie):
    found: Any = batch_of(tie)
    return found


def _set_up(browser, tie, four, **given):
    data = {"engine": four.pk, "current_channel": "clamp", "sync_channel": "coil", **SETUP, **given}
    address = reverse("traces:setup", args=[tie.capture_id])
    return browser.post(address, data | {"form_token": str(uuid4())})


def _same_form(browser, tie):
    address = reverse("jobs:capture", args=[tie.capture_id])
    return next(forms_to(browser.get(address), address, "jobs:capture-same"), None)


def test_four_files_are_set_up_with_one_form_and_three_presses(browser, upload, four):
    answer, ties = upload(*(csv_bytes(seed=n) for n in range(1, 5)))
    following = reverse("jobs:capture", args=[ties[0].capture_id])
    assert answer.url == f"{following}?then=set-up"
    first = _place(ties[0])
    assert (first.number, first.count, first.next, first.like) == (1, 4, ties[1], None)
    assert _same_form(browser, ties[0]) is None
    assert _set_up(browser, ties[0], four, battery_v="12,6").status_code == 302
    page = browser.get(answer.url).content.decode()
    assert f'href="{reverse("jobs:capture", args=[ties[1].capture_id])}"' in page
    assert _same_form(browser, ties[0]) is None
    for tie, following in zip(ties[1:], [*ties[2:], ties[3]], strict=True):
        form = _same_form(browser, tie)
        for _ in range(2):  # pressed twice, it is set up once
            done = browser.post(form.action, form.sent)
            assert done.url == reverse("jobs:capture", args=[following.capture_id])
    setups = list(CaptureSetup.objects.order_by("pk"))
    assert [s.capture_id for s in setups] == [t.capture_id for t in ties]
    assert {str(s.settings) for s in setups} == {str(setups[0].settings)}
    assert {(s.engine_id, s.battery_v) for s in setups} == {(four.pk, 12.6)}
    assert Run.objects.count() == 4
    assert _place(ties[3]).next is None


def test_channels_are_taken_by_name_then_by_number(browser, upload, four):
    plain = csv_bytes(seed=2)
    _, ties = upload(
        csv_bytes(seed=1),
        _renamed(csv_bytes(seed=3), b"Time,one,two"),
        _renamed(plain, b"Time,coil,clamp"),
    )
    _set_up(browser, ties[0], four)
    for tie in ties[1:]:
        form = _same_form(browser, tie)
        browser.post(form.action, form.sent)
    setups = CaptureSetup.objects.order_by("pk")
    chosen = [(s.settings["current_channel"], s.settings["sync"]["channel"]) for s in setups]
    assert chosen == [("clamp", "coil"), ("one", "two"), ("clamp", "coil")]


@pytest.mark.parametrize(
    "other",
    [
        # another number of channels, or another unit in their place
        b"Time,one\n(s),(V)\n" + b"".join(b"%.3f,1.2\n" % (n / 1000) for n in range(500)),
        _renamed(csv_bytes(seed=4), b"Time,one,two").replace(b"(s),(V),(V)", b"(s),(A),(V)"),
        # a name of the other file, so that the places are not the same either
        _renamed(csv_bytes(seed=5), b"Time,coil,two"),
    ],
)
def test_a_file_that_does_not_fit_is_set_up_by_itself(browser, upload, four, other):
    _, ties = upload(csv_bytes(seed=1), other)
    _set_up(browser, ties[0], four)
    form = _same_form(browser, ties[1])
    answer = browser.post(form.action, form.sent)
    assert answer.url.startswith(reverse("traces:setup", args=[ties[1].capture_id]))
    assert CaptureSetup.objects.count() == 1


def test_files_of_another_upload_are_no_part_of_it(browser, upload, four):
    _, (alone,) = upload(csv_bytes(seed=1))
    _, ties = upload(csv_bytes(seed=2), csv_bytes(seed=3))
    _set_up(browser, alone, four)
    assert batch_of(alone) is None
    assert _place(ties[0]).like is None
    of_another = CaptureSetup.objects.get().pk
    _set_up(browser, ties[0], four)
    address = reverse("jobs:capture-same", args=[ties[1].capture_id])
    sent = {"form_token": str(uuid4()), "like": of_another}
    assert browser.post(address, sent).status_code == 404


def test_a_file_set_aside_is_passed_over(browser, upload, four):
    _, ties = upload(*(csv_bytes(seed=n) for n in range(1, 4)))
    VisitCapture.objects.filter(pk=ties[1].pk).update(aside_why="Wrong clamp.")
    assert _place(ties[0]).next == ties[2]
    assert _place(ties[0]).next_number == 3


def _setups():
    return list(CaptureSetup.objects.all())


def _all_forms(browser, tie):
    address = reverse("jobs:capture", args=[tie.capture_id])
    return list(forms_to(browser.get(address), address, "jobs:capture-same-all"))


def test_one_press_sets_up_all_others_alike_and_names_what_does_not_match(browser, upload, four):
    content = csv_bytes(seconds=3)
    others = [csv_bytes(seconds=3, seed=n) for n in (2, 3)]
    strange = _renamed(csv_bytes(seconds=3, seed=4), b"Time,amps,coil")
    _answer, ties = upload(content, *others, strange)
    _set_up(browser, ties[0], four)
    form = next(iter(_all_forms(browser, ties[0])))
    for _ in range(2):
        assert browser.post(form.action, filled(form, {})).status_code == 302
    assert Run.objects.count() == 3
    told = [(s.analysis.current_channel, s.analysis.sync, s.engine_id) for s in _setups()]
    assert {channel for channel, _sync, _engine in told} == {"clamp"}
    assert {(sync.channel, sync.cylinder) for _channel, sync, _engine in told if sync} == {
        ("coil", 1)
    }
    assert {engine for _channel, _sync, engine in told} == {four.pk}
    assert not CaptureSetup.objects.filter(capture_id=ties[3].capture_id).exists()
    # nothing is left that fits; the strange one is named
    assert _all_forms(browser, ties[0]) == []
    text = browser.get(reverse("jobs:capture", args=[ties[0].capture_id])).content.decode()
    assert "crank-4.csv" in text[text.index('id="same-for-others"') :]


def test_a_file_whose_channel_shows_pulses_takes_no_clamp_over(browser, upload, four):
    _answer, ties = upload(csv_bytes(seconds=3), csv_bytes(seconds=3, seed=2))
    reading = ties[1].capture.reading
    reading.roles = reading.roles | {"shows": ["pulses", "current"]}
    reading.save(update_fields=["roles"])
    _set_up(browser, ties[0], four)
    assert _all_forms(browser, ties[0]) == []
