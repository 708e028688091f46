"""Uploads from programs by the tus protocol: by hand, and by a client that knows nothing of us."""

import hashlib
import shutil
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from tusclient.client import TusClient
from tusclient.exceptions import TusUploadFailed

from shopdiag.people.models import ApiToken
from shopdiag.people.services import token_create, token_revoke
from tests.api.conftest import ApiFor
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes
from tests.traces.tus import (
    VERSION,
    address_of,
    begun,
    create,
    delete,
    offset,
    patch,
    sentence,
    whole_header,
)
from traces.models import Capture, Upload
from traces.uploads.files import upload_path, uploads_folder

CONTENT = csv_bytes()


def take(client: Any, visit: Any, *tokens: Any, **fields: Any) -> Any:
    body = {"arrived": [str(token) for token in tokens], **fields}
    return client.post(f"/api/visits/{visit.pk}/captures/", body, format="multipart")


@pytest.fixture
def client(cast: Cast, api_for: ApiFor) -> Any:
    return api_for(cast.diagnostician)


@pytest.fixture
def uploader(live_server: Any, cast: Cast, settings: Any, media: Path) -> Callable[..., Any]:
    """Return a maker of uploads by a generic client of the protocol, to a live server."""
    settings.DEBUG = False
    _, key = token_create(member=cast.diagnostician, label="tus")
    client = TusClient(f"{live_server.url}/api/uploads/", {"Authorization": f"Token {key}"})
    # It leaves files open that it opens by itself.
    return lambda **more: client.uploader(file_stream=BytesIO(CONTENT), **more)


@pytest.mark.django_db(transaction=True)
def test_an_upload_becomes_a_visits_capture(client: Any, visit):
    token = begun(client, CONTENT)
    patch(client, token, CONTENT, 0, 1000)
    # The program was ended and asks where to go on.
    assert offset(client, token) == 1000
    assert patch(client, token, CONTENT, 0, 1000).status_code == 409
    patch(client, token, CONTENT, 1000, len(CONTENT), Repr_Digest=whole_header(CONTENT))
    answer = take(client, visit, token, label="Cold")
    assert answer.status_code == 201
    (line,) = answer.json()
    capture = Capture.objects.get(pk=line["capture"])
    assert Path(capture.original.path).read_bytes() == CONTENT
    assert (capture.original_name, capture.label) == ("crank.csv", "Cold")
    assert list(uploads_folder().iterdir()) == []
    # Sent again because its answer was lost: the same capture.
    again = take(client, visit, token)
    assert (again.status_code, again.json()[0]["capture"]) == (200, capture.pk)
    # It is no upload any more.
    assert client.head(address_of(token), headers=VERSION).status_code == 404


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("more", [{"chunk_size": 3000}, {}], ids=["in parts", "at once"])
def test_a_generic_client_uploads(uploader, client: Any, visit, more):
    metadata = {"filename": "cold crank.csv", "sha256": hashlib.sha256(CONTENT).hexdigest()}
    sending = uploader(metadata=metadata, **more)
    sending.upload()
    answer = take(client, visit, sending.url.split("/")[-2])
    assert answer.status_code == 201
    capture = Capture.objects.get()
    assert Path(capture.original.path).read_bytes() == CONTENT
    assert capture.original_name == "cold crank.csv"


@pytest.mark.django_db(transaction=True)
def test_a_generic_client_goes_on_and_has_its_parts_checked(uploader):
    first = uploader(chunk_size=3000, upload_checksum=True)
    first.upload_chunk()
    first.upload_chunk()
    later = uploader(chunk_size=5000, url=first.url, upload_checksum=True)
    assert later.offset == 6000
    later.upload()
    row = Upload.objects.get()
    assert (row.received_bytes, row.size_bytes) == (len(CONTENT), len(CONTENT))
    assert upload_path(row.token).read_bytes() == CONTENT


@pytest.mark.django_db(transaction=True)
def test_a_generic_client_is_stopped_when_its_token_ends(uploader, cast):
    sending = uploader(chunk_size=3000)
    sending.upload_chunk()
    token_revoke(token=ApiToken.objects.get(label="tus"), by=cast.diagnostician)
    with pytest.raises(TusUploadFailed) as stopped:
        sending.upload_chunk()
    assert stopped.value.status_code == 401
    assert Upload.objects.get().received_bytes == 3000


@pytest.mark.parametrize("who", ["owner", "outsider", "other_owner"])
def test_nobody_else_is_told_anything(cast: Cast, api_for: ApiFor, client: Any, visit, who: str):
    token = begun(client, CONTENT)
    patch(client, token, CONTENT, 0, len(CONTENT))
    other = api_for(getattr(cast, who))
    for answer in (
        other.get(address_of(token), headers=VERSION),
        patch(other, token, CONTENT, 0, 9),
        patch(other, token, CONTENT, 0, 9, Upload_Offset="nonsense"),
        delete(other, token),
    ):
        assert answer.status_code == 404
    taken = take(other, visit, token)
    assert taken.status_code == (400 if who == "owner" else 404)
    assert not Capture.objects.exists()
    assert offset(client, token) == len(CONTENT)


def test_a_full_disk_is_507(client: Any, monkeypatch):
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=1))
    answer = create(client, "a.csv", 5)
    assert answer.status_code == 507
    sentence(answer)


def test_giving_up_leaves_nothing(client: Any):
    token = begun(client, CONTENT)
    patch(client, token, CONTENT, 0, 1000)
    assert delete(client, token).status_code == 204
    assert list(uploads_folder().iterdir()) == []
    assert delete(client, token).status_code == 404


def test_what_is_not_whole_or_no_token(client: Any, visit):
    for token in (begun(client, CONTENT), "x"):
        answer = take(client, visit, token)
        assert answer.status_code == 400
        assert list(answer.json()) == ["arrived"]
