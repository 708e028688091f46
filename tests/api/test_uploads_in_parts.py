"""Large files from programs: in parts, gone on with, held against their digests, private."""

import shutil
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.api.conftest import ApiFor
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes
from tests.traces.parts import digest_header
from traces.models import Capture, PartialUpload
from traces.uploads.request_files import PART_BYTES, arriving_folder

CONTENT = csv_bytes()
OCTETS = "application/octet-stream"


def begun(client: Any, content: bytes = CONTENT, name: str = "crank.csv") -> str:
    answer = client.post("/api/uploads/", {"name": name, "size": len(content)})
    assert answer.status_code == 201, answer.content
    token: str = answer.json()["token"]
    return f"/api/uploads/{token}/"


def put(client: Any, address: str, start: int, stop: int, **more: Any) -> Any:
    headers = {
        "Content-Range": f"bytes {start}-{stop - 1}/{len(CONTENT)}",
        "Content-Digest": digest_header(CONTENT[start:stop]),
        **{name.replace("_", "-"): text for name, text in more.items() if name[0].isupper()},
    }
    body, kind = more.get("body", CONTENT[start:stop]), more.get("kind", OCTETS)
    return client.generic("PUT", address, body, content_type=kind, headers=headers)


def take(client: Any, visit: Any, *addresses: str, **fields: Any) -> Any:
    tokens = [address.split("/")[-2] for address in addresses]
    body = {"arrived": tokens, **fields}
    return client.post(f"/api/visits/{visit.pk}/captures/", body, format="multipart")


@pytest.fixture
def client(cast: Cast, api_for: ApiFor) -> Any:
    return api_for(cast.diagnostician)


@pytest.mark.django_db(transaction=True)
def test_a_file_in_parts_becomes_a_visits_capture(client: Any, visit):
    address = begun(client)
    assert put(client, address, 0, 1000).json() == {"received": 1000}
    # The program was ended and asks where to go on.
    assert client.get(address).json()["received"] == 1000
    assert put(client, address, 0, 1000).status_code == 409
    last = put(client, address, 1000, len(CONTENT), Repr_Digest=digest_header(CONTENT))
    assert last.json() == {"received": len(CONTENT)}
    answer = take(client, visit, address, label="Cold")
    assert answer.status_code == 201
    (line,) = answer.json()
    capture = Capture.objects.get(pk=line["capture"])
    assert Path(capture.original.path).read_bytes() == CONTENT
    assert (capture.original_name, capture.label) == ("crank.csv", "Cold")
    assert list(arriving_folder().iterdir()) == []
    # Sent again because its answer was lost: the same capture.
    again = take(client, visit, address)
    assert (again.status_code, again.json()[0]["capture"]) == (200, capture.pk)


@pytest.mark.parametrize("who", ["owner", "outsider", "other_owner"])
def test_nobody_else_is_told_anything(cast: Cast, api_for: ApiFor, client: Any, visit, who: str):
    address = begun(client)
    put(client, address, 0, len(CONTENT))
    other = api_for(getattr(cast, who))
    for answer in (
        other.get(address),
        put(other, address, 0, 9),
        put(other, address, 0, 9, Content_Range="nonsense"),
        other.delete(address),
    ):
        assert answer.status_code == 404
    taken = take(other, visit, address)
    assert taken.status_code == (400 if who == "owner" else 404)
    assert not Capture.objects.exists()
    assert client.get(address).json()["received"] == len(CONTENT)


@pytest.mark.parametrize(
    ("more", "status"),
    [
        ({"body": CONTENT[:99]}, 400),
        ({"body": b""}, 400),
        ({"body": bytes(PART_BYTES + 2)}, 413),
        ({"Content_Digest": digest_header(b"x")}, 400),
        ({"Content_Digest": ""}, 400),
        ({"Content_Range": "bytes 0-99/*"}, 400),
        ({"kind": "application/json"}, 415),
    ],
    ids=["short", "empty", "too much", "other digest", "no digest", "no total", "JSON"],
)
def test_parts_that_are_not_what_they_say(client: Any, more: dict[str, Any], status: int):
    address = begun(client)
    answer = put(client, address, 0, 100, **more)
    assert answer.status_code == status, answer.content
    assert answer.json()["detail"].endswith(".")
    assert client.get(address).json()["received"] == 0


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"name": "a.csv", "size": 0}, "size"),
        ({"name": "a.csv", "size": -1}, "size"),
        ({"name": "a.csv", "size": "many"}, "size"),
        ({"name": "a.csv"}, "size"),
        ({"name": "", "size": 5}, "name"),
        ({"name": "a.csv", "size": 5, "sha": "x"}, "sha"),
        ({"name": "a.csv", "size": 10**12}, "detail"),
    ],
)
def test_what_cannot_come_in(client: Any, sent: dict[str, Any], field: str):
    answer = client.post("/api/uploads/", sent)
    assert answer.status_code == 400
    assert list(answer.json()) == [field]
    assert not PartialUpload.objects.exists()


def test_a_full_disk_is_507(client: Any, monkeypatch):
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=1))
    answer = client.post("/api/uploads/", {"name": "a.csv", "size": 5})
    assert answer.status_code == 507
    assert "disk is full" in answer.json()["detail"]


def test_giving_up_leaves_nothing(client: Any):
    address = begun(client)
    put(client, address, 0, 1000)
    assert client.delete(address).status_code == 204
    assert list(arriving_folder().iterdir()) == []
    assert client.delete(address).status_code == 404


def test_what_is_not_whole_or_no_token(client: Any, visit):
    address = begun(client)
    answer = take(client, visit, address)
    assert answer.status_code == 400
    assert "not here whole" in answer.json()["arrived"][0]
    answer = take(client, visit, "/x/")
    assert answer.status_code == 400
    assert list(answer.json()) == ["arrived"]
