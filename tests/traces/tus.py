"""Sending a file by the tus protocol, as the page's script or any program does."""

import base64
import hashlib
from typing import Any
from uuid import UUID

from django.test import Client
from django.urls import reverse

from traces.uploads.tus import PART_TYPE

JSON = {"accept": "application/json"}
VERSION = {"Tus-Resumable": "1.0.0"}


def base64_of(content: bytes) -> str:
    return base64.b64encode(content).decode()


def checksum_header(content: bytes, algorithm: str = "sha256") -> str:
    return f"{algorithm} {base64_of(hashlib.new(algorithm, content).digest())}"


def whole_header(content: bytes) -> str:
    return f"sha-256=:{base64_of(hashlib.sha256(content).digest())}:"


def metadata_header(**values: str) -> str:
    return ",".join(f"{key} {base64_of(value.encode())}" for key, value in values.items())


def address_of(token: UUID) -> str:
    return reverse("api:upload", args=[token])


def create(client: Client, name: str, size: Any, **more: str) -> Any:
    """Begin an upload; `more` are headers, with `_` for `-`, that come on top."""
    headers = {
        **VERSION,
        "Upload-Length": str(size),
        "Upload-Metadata": metadata_header(filename=name),
        **{key.replace("_", "-"): value for key, value in more.items()},
    }
    return client.post(reverse("api:uploads"), headers=headers)


def begun(client: Client, content: bytes, name: str = "crank.csv", **more: str) -> UUID:
    answer = create(client, name, len(content), **more)
    assert answer.status_code == 201, answer.content
    return UUID(answer["Location"].split("/")[-2])


def patch(client: Client, token: UUID, content: bytes, start: int, stop: int, **more: Any) -> Any:
    """Send the part from `start` to `stop`; `more` replaces headers, the `body` or its `kind`."""
    body = more.pop("body", content[start:stop])
    kind = more.pop("kind", PART_TYPE)
    headers = {
        **VERSION,
        "Upload-Offset": str(start),
        "Upload-Checksum": checksum_header(content[start:stop]),
        **{name.replace("_", "-"): value for name, value in more.items()},
    }
    headers = {name: value for name, value in headers.items() if value is not None}
    return client.generic("PATCH", address_of(token), body, content_type=kind, headers=headers)


def offset(client: Client, token: UUID) -> int:
    """Ask how much is here."""
    return int(client.head(address_of(token), headers=VERSION)["Upload-Offset"])


def delete(client: Client, token: UUID) -> Any:
    return client.delete(address_of(token), headers=VERSION)


def sent(
    client: Client, content: bytes, name: str = "crank.csv", *, part: int = 1000, whole: bool = True
) -> UUID:
    """Send a whole file in parts; return its token."""
    token = begun(client, content, name)
    for start in range(0, len(content), part):
        stop = min(start + part, len(content))
        last = {"Repr_Digest": whole_header(content)} if whole and stop == len(content) else {}
        answer = patch(client, token, content, start, stop, **last)
        assert (answer.status_code, answer["Upload-Offset"]) == (204, str(stop))
    return token


def sentence(answer: Any) -> str:
    """Return what a refusal says."""
    said: str = answer.json()["detail"]
    assert said.endswith(".")
    return said
