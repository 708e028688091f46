"""Sending a file in parts, as the page's script does."""

import base64
import hashlib
from typing import Any
from uuid import UUID

from django.test import Client
from django.urls import reverse

from traces.uploads.headers import PartHead, PartRange

JSON = {"accept": "application/json"}


def digest_header(content: bytes) -> str:
    return "sha-256=:" + base64.b64encode(hashlib.sha256(content).digest()).decode() + ":"


def head_of(content: bytes, start: int, stop: int, *, whole: bool = False) -> PartHead:
    """Return what a sender says of a part of `content`."""
    return PartHead(
        PartRange(start, stop, len(content)),
        hashlib.sha256(content[start:stop]).digest(),
        hashlib.sha256(content).digest() if whole else None,
    )


def begin(client: Client, name: str, size: Any) -> Any:
    return client.post(reverse("traces:parts"), {"name": name, "size": size})


def begun(client: Client, content: bytes, name: str = "crank.csv") -> UUID:
    answer = begin(client, name, len(content))
    assert answer.status_code == 201, answer.content
    return UUID(answer.json()["token"])


def put(client: Client, token: UUID, content: bytes, start: int, stop: int, **more: Any) -> Any:
    """Send the part from `start` to `stop`; `more` replaces headers, or the `body`."""
    body = more.pop("body", content[start:stop])
    headers = {
        "Content-Range": f"bytes {start}-{stop - 1}/{len(content)}",
        "Content-Digest": digest_header(content[start:stop]),
        **{name.replace("_", "-"): value for name, value in more.items()},
    }
    return client.put(
        reverse("traces:part", args=[token]),
        body,
        content_type="application/octet-stream",
        headers=headers,
    )


def sent(
    client: Client, content: bytes, name: str = "crank.csv", *, part: int = 1000, whole: bool = True
) -> UUID:
    """Send a whole file in parts; return its token."""
    token = begun(client, content, name)
    for start in range(0, len(content), part):
        stop = min(start + part, len(content))
        last = {"Repr_Digest": digest_header(content)} if whole and stop == len(content) else {}
        answer = put(client, token, content, start, stop, **last)
        assert answer.json() == {"received": stop}
    return token
