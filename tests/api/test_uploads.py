"""Captures over the API: several at once, twice, too large, empty, no recordings at all."""

from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from jobs.core.stages import Stage
from jobs.models import Visit, VisitCapture
from tests.api.conftest import ApiFor, World
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes
from tests.wording import says, says_only
from traces.models import Capture, Reading, Work
from traces.uploads import limits

PNG = b"\x89PNG\r\n\x1a\n" + bytes(64)


def file(content: bytes, name: str = "crank.csv") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


def send(client, visit: Visit, *files: SimpleUploadedFile, **fields: object):
    body = {"file": list(files), **fields}
    return client.post(f"/api/visits/{visit.pk}/captures/", body, format="multipart")


def test_several_files_come_in_and_a_bad_one_stops_none(cast: Cast, api_for: ApiFor, visit: Visit):
    answer = send(
        api_for(cast.diagnostician),
        visit,
        file(csv_bytes(), "good.csv"),
        file(b"", "empty.csv"),
        file(PNG, "picture.png"),
        label="Before the repair",
    )
    assert answer.status_code == 201
    good, empty, picture = answer.json()
    assert (good["name"], good["added"], good["sentence"]) == ("good.csv", True, "")
    for bad in (empty, picture):
        assert (bad["capture"], bad["added"]) == (None, False)
        assert bad["sentence"].endswith(".")
    capture = Capture.objects.get()
    assert (capture.pk, capture.label) == (good["capture"], "Before the repair")
    listed = api_for(cast.mechanic).get(f"/api/visits/{visit.pk}/captures/").json()
    assert [(line["capture"], line["name"], line["purpose"]) for line in listed] == [
        (capture.pk, "good.csv", "diagnosis")
    ]


def test_the_same_file_sent_again_gives_the_capture_that_is_there(
    cast: Cast, api_for: ApiFor, visit: Visit, take_in
):
    client = api_for(cast.diagnostician)
    first = send(client, visit, file(csv_bytes())).json()[0]
    again = send(client, visit, file(csv_bytes(), "copy.csv"))
    assert again.status_code == 200
    assert (again.json()[0]["capture"], again.json()[0]["added"]) == (first["capture"], False)
    other = take_in(cast.writer)
    refused = send(client, other, file(csv_bytes()))
    assert refused.status_code == 400
    assert "same content" in refused.json()["file"][0]
    kept = send(client, other, file(csv_bytes()), keep_duplicate="true")
    assert kept.status_code == 201
    assert Capture.objects.count() == 2


def test_whether_the_engine_idles_is_the_set_ups_to_say(cast: Cast, api_for: ApiFor, visit: Visit):
    for purpose in VisitCapture.IDLING:
        answer = send(api_for(cast.diagnostician), visit, file(csv_bytes()), purpose=purpose)
        assert (answer.status_code, set(answer.json())) == (400, {"purpose"})
    assert not Capture.objects.exists()


@pytest.mark.parametrize("content", [b"", PNG, b"just words\n" * 3, b"%PDF-1.7\n"])
def test_when_none_is_good_each_is_told_why(
    cast: Cast, api_for: ApiFor, visit: Visit, media: Path, content: bytes
):
    if content.startswith(b"just"):
        # Text may hold a recording; the worker's reading says that this one does not.
        assert send(api_for(cast.owner), visit, file(content)).status_code == 201
        return
    answer = send(api_for(cast.owner), visit, file(content, "x.csv"), file(content, "y.csv"))
    assert answer.status_code == 400
    assert [("x.csv" in answer.json()["file"][0]), ("y.csv" in answer.json()["file"][1])] == [
        True,
        True,
    ]
    assert not Capture.objects.exists()
    assert not list(media.rglob("*.*"))


def test_a_file_over_the_limit_is_counted_but_not_kept(
    *, cast: Cast, api_for: ApiFor, visit: Visit, settings, media: Path, monkeypatch
):
    settings.CAPTURE_LIMIT_MB = 1
    passed = []
    keep = limits.LimitHandler.receive_data_chunk

    def counted(self, raw_data, start):
        kept = keep(self, raw_data, start)
        passed.append(len(kept or b""))
        return kept

    monkeypatch.setattr(limits.LimitHandler, "receive_data_chunk", counted)
    answer = send(api_for(cast.owner), visit, file(b"1,2\n" * 1_000_000, "long.csv"))
    assert answer.status_code == 400
    assert says(
        answer.json()["file"][0], "limits.mb-limit-mb-save", name="long.csv", size=4, limit=1
    )
    # Four million bytes came in, and no more than the limit went on.
    assert len(passed) > 16
    assert sum(passed) <= 1_000_000
    assert not list(Path(settings.FILE_UPLOAD_TEMP_DIR).iterdir())
    assert not Capture.objects.exists()


def test_a_closed_job_takes_none(cast: Cast, api_for: ApiFor, visit: Visit):
    Visit.objects.filter(pk=visit.pk).update(stage=Stage.CLOSED)
    answer = send(api_for(cast.owner), visit, file(csv_bytes()))
    assert set(answer.json()) == {"detail"}
    assert says_only(answer.json()["detail"], "visits.job-closed-move-back")


@pytest.mark.parametrize(
    ("fields", "name"),
    [
        ({"file": "no file at all"}, "file"),
        ({}, "file"),
        ({"file": file(csv_bytes()), "purpose": "fun"}, "purpose"),
        ({"file": file(csv_bytes()), "keep_duplicate": "perhaps"}, "keep_duplicate"),
        ({"file": file(csv_bytes()), "lable": "slip"}, "lable"),
        ({"file": [file(csv_bytes(seed=n)) for n in range(21)]}, "file"),
    ],
)
def test_other_fields_are_told_by_name(
    cast: Cast, api_for: ApiFor, visit: Visit, fields: dict[str, object], name: str
):
    answer = api_for(cast.owner).post(
        f"/api/visits/{visit.pk}/captures/", fields, format="multipart"
    )
    assert answer.status_code == 400
    assert list(answer.json()) == [name]
    assert not Capture.objects.exists()


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        (b"{}", "application/json", 415),
        (b"file=x", "application/x-www-form-urlencoded", 415),
        (b"nothing like it", "multipart/form-data; boundary=xyz", 400),
        (b"x", "multipart/form-data", 400),
        (b"x", "multipart/form-data; boundary=" + "y" * 300, 415),
        (b"--b\r\nContent-Disposition: form-data; name=file; filename=a\r\n\r\n", "", 415),
    ],
)
def test_other_bodies_are_refused(
    *, cast: Cast, api_for: ApiFor, visit: Visit, body: bytes, kind: str, status: int
):
    client: Any = api_for(cast.owner)
    answer = client.generic("POST", f"/api/visits/{visit.pk}/captures/", body, content_type=kind)
    assert answer.status_code == status, answer.content
    assert not Capture.objects.exists()


def test_too_many_parts_are_refused(cast: Cast, api_for: ApiFor, visit: Visit):
    many = [file(b"1,2\n", f"{n}.csv") for n in range(120)]
    answer = send(api_for(cast.owner), visit, *many)
    assert answer.status_code == 400
    assert "too many parts" in answer.json()["detail"]


@pytest.mark.parametrize(
    "name", ["../../etc/cron.d/x.csv", "a\x00b.csv", "ü" * 300 + ".csv", ".csv"]
)
def test_a_name_is_only_shown(cast: Cast, api_for: ApiFor, visit: Visit, media: Path, name: str):
    answer = send(api_for(cast.owner), visit, file(csv_bytes(), name))
    assert answer.status_code in {201, 400}
    for capture in Capture.objects.all():
        assert Path(capture.original.path).is_relative_to(media)
        assert "/" not in capture.original_name


def test_a_reading_that_failed_is_tried_again(cast: Cast, api_for: ApiFor, world: World):
    Reading.objects.filter(capture=world.capture).update(state=Work.State.FAILED, error="x.")
    client, address = api_for(cast.owner), f"/api/captures/{world.capture.pk}/"
    assert client.get(address).json()["reading"]["state"] == "failed"
    again = client.post(f"{address}read-again/")
    assert (again.status_code, again.json()["reading"]["state"]) == (202, "queued")
