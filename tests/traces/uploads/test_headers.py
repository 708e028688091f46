"""Headers of a part: as RFC 9110 and RFC 9530 write them, and as nobody should."""

import base64
import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from traces.uploads.headers import PartHeaderError, PartRange, part_head, part_range, sha256_of

# RFC 9530, appendix B.1: the digest of this content, which ends in a line feed.
HELLO = b'{"hello": "world"}\n'
HELLO_DIGEST = "sha-256=:RK/0qy18MlBSVnWgjwz6lZEWjP/lF5HF9bvEF8FabDg=:"


def test_the_digest_of_the_rfc_is_read():
    assert sha256_of(HELLO_DIGEST) == hashlib.sha256(HELLO).digest()


def test_other_digests_may_stand_beside_it():
    other = "sha-512=:" + base64.b64encode(bytes(64)).decode() + ":"
    for header in (f"{other}, {HELLO_DIGEST}", f"{HELLO_DIGEST},{other}"):
        assert sha256_of(header) == hashlib.sha256(HELLO).digest()
    assert sha256_of(other) is None
    assert sha256_of("") is None


@pytest.mark.parametrize(
    "header",
    [
        "sha-256=RK/0qy18MlBSVnWgjwz6lZEWjP/lF5HF9bvEF8FabDg=",
        "sha-256=:RK/0:",
        "sha-256=::",
        "sha-256=:RK/0qy18MlBSVnWgjwz6lZEWjP/lF5HF9bvEF8FabDg:",
        "sha-256=:****:",
        "sha-256",
        "sha256:abc",
        "=:AA==:",
        HELLO_DIGEST + "x",
        "sha-256=:" + "A" * 10_000 + ":",
    ],
)
def test_what_is_no_digest_is_refused(header):
    with pytest.raises(PartHeaderError, match="base64"):
        sha256_of(header)


@pytest.mark.parametrize(
    ("header", "place"),
    [
        # RFC 9110, section 14.4.
        ("bytes 42-1233/1234", PartRange(42, 1234, 1234)),
        ("bytes 0-499/1234", PartRange(0, 500, 1234)),
        ("Bytes 7-7/8", PartRange(7, 8, 8)),
    ],
)
def test_ranges_of_the_rfc_are_read(header, place):
    assert part_range(header) == place
    assert place.size == place.stop - place.start


@pytest.mark.parametrize(
    "header",
    [
        "",
        "bytes 42-1233/*",
        "bytes */1234",
        "bytes 5-4/10",
        "bytes 0-10/10",
        "bytes -1-4/10",
        "bytes 0-4",
        "lines 0-4/10",
        "bytes 0-4/10, 5-6/10",
        "bytes ٠-٤/١٠",
        "bytes 0-" + "9" * 5000 + "/" + "9" * 5001,
    ],
)
def test_what_names_no_part_is_refused(header):
    with pytest.raises(PartHeaderError, match="FIRST-LAST/TOTAL"):
        part_range(header)


@given(st.text(), st.text(), st.text())
def test_any_headers_are_read_or_refused_in_words(place, digest, whole):
    headers = {"Content-Range": place, "Content-Digest": digest, "Repr-Digest": whole}
    refusal = ""
    digest = b""
    try:
        digest = part_head(headers).digest
    except PartHeaderError as refused:
        refusal = str(refused)
    assert refusal.endswith(".") != (len(digest) == 32)


@given(st.binary(), st.integers(0, 10**9), st.integers(1, 10**9), st.integers(0, 10**9))
def test_what_a_sender_writes_comes_out(content, start, size, behind):
    digest = hashlib.sha256(content).digest()
    text = "sha-256=:" + base64.b64encode(digest).decode() + ":"
    stop = start + size
    place = f"bytes {start}-{stop - 1}/{stop + behind}"
    head = part_head({"Content-Range": place, "Content-Digest": text, "Repr-Digest": text})
    assert (head.place, head.digest, head.whole) == (
        PartRange(start, stop, stop + behind),
        digest,
        digest,
    )


def test_a_part_needs_its_digest():
    with pytest.raises(PartHeaderError, match="Content-Digest"):
        part_head({"Content-Range": "bytes 0-4/10"})
