"""Headers of the tus protocol: as its text and the RFCs write them, and as nobody should."""

import base64
import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.traces.tus import checksum_header, metadata_header, whole_header
from traces.uploads.tus import (
    DIGEST_BYTES,
    MOST_METADATA,
    Checksum,
    TusHeaderError,
    checksum_of,
    file_name_of,
    metadata_of,
    number_of,
    sha256_of_metadata,
    sha256_of_whole,
)

# RFC 9530, appendix B.1: the digest of this content, which ends in a line feed.
HELLO = b'{"hello": "world"}\n'
HELLO_DIGEST = "sha-256=:RK/0qy18MlBSVnWgjwz6lZEWjP/lF5HF9bvEF8FabDg=:"


def test_the_checksum_of_the_protocols_text_is_read():
    """The text's own example: the SHA-1 of “hello world”."""
    checksum = checksum_of("sha1 Kq5sNclPz7QV2+lfQIuc6R7oRu0=")
    assert checksum == Checksum("sha1", bytes.fromhex("2aae6c35c94fcfb415dbe95f408b9ce91ee846ed"))
    assert checksum.matches(b"hello world")
    assert not checksum.matches(b"hello World")
    assert checksum_of("") is None


@pytest.mark.parametrize(
    "header",
    [
        "sha1",
        "sha1 ",
        "sha1 Kq5s",
        "sha1 ****",
        "SHA1 Kq5sNclPz7QV2+lfQIuc6R7oRu0=",
        "md5 XrY7u+Ae7tCTyyK7j1rNww==",
        "sha256 Kq5sNclPz7QV2+lfQIuc6R7oRu0=",
        "sha256 ü",
        " ",
    ],
)
def test_what_is_no_checksum_is_refused(header):
    with pytest.raises(TusHeaderError):
        checksum_of(header)


def test_the_metadata_of_the_protocols_text_is_read():
    read = metadata_of("filename d29ybGRfZG9taW5hdGlvbl9wbGFuLnBkZg==,is_confidential")
    assert read == {"filename": "world_domination_plan.pdf", "is_confidential": ""}
    assert metadata_of("") == {}
    assert metadata_of("filename 8J+agA==, name eA==") == {"filename": "🚀", "name": "x"}


@pytest.mark.parametrize(
    "header",
    [
        "a eA==,a eA==",
        "a x",
        "a  eA==",
        ",",
        "a eA==,",
        "ä eA==",
        "a eA== eA==",
        "a " + "A" * (4 * MOST_METADATA),
    ],
)
def test_what_is_no_metadata_is_refused(header):
    with pytest.raises(TusHeaderError):
        metadata_of(header)


def test_a_files_name_stands_under_either_key():
    assert file_name_of({"filename": "a", "name": "b"}) == "a"
    assert file_name_of({"name": "b"}) == "b"
    assert file_name_of({"type": "text/csv"}) == ""


def test_the_digest_of_the_rfc_is_read():
    assert sha256_of_whole(HELLO_DIGEST) == hashlib.sha256(HELLO).hexdigest()


def test_other_digests_may_stand_beside_it():
    other = "sha-512=:" + base64.b64encode(bytes(64)).decode() + ":"
    for header in (f"{other}, {HELLO_DIGEST}", f"{HELLO_DIGEST},{other}"):
        assert sha256_of_whole(header) == hashlib.sha256(HELLO).hexdigest()
    assert sha256_of_whole(other) == ""
    assert sha256_of_whole("") == ""


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
    with pytest.raises(TusHeaderError):
        sha256_of_whole(header)


@pytest.mark.parametrize("text", ["x", "0" * 63, "0" * 65, "g" * 64, "٠" * 64])
def test_what_is_no_digest_in_the_metadata_is_refused(text):
    with pytest.raises(TusHeaderError):
        sha256_of_metadata({"sha256": text})
    assert sha256_of_metadata({"sha256": "AB" * 32}) == "ab" * 32
    assert sha256_of_metadata({}) == ""


@pytest.mark.parametrize("text", ["", "-1", "1.5", " 1", "١", "9" * 16, "x", "1,2", "+1"])
def test_what_is_no_number_of_bytes_is_refused(text):
    with pytest.raises(TusHeaderError):
        number_of({"Upload-Offset": text}, "Upload-Offset")
    with pytest.raises(TusHeaderError):
        number_of({}, "Upload-Offset")
    assert number_of({"Upload-Offset": "0070"}, "Upload-Offset") == 70


@given(st.text())
def test_any_header_is_read_or_refused_in_words(text):
    for read in (checksum_of, metadata_of, sha256_of_whole):
        try:
            read(text)
        except TusHeaderError as refused:
            assert str(refused).endswith(".")  # noqa: PT017 - any outcome but another error


@given(st.binary(), st.sampled_from(sorted(DIGEST_BYTES)), st.text(max_size=500))
def test_what_a_sender_writes_comes_out(content, algorithm, name):
    checksum = checksum_of(checksum_header(content, algorithm))
    assert checksum is not None
    assert checksum.matches(content)
    assert not checksum.matches(content + b"x")
    assert sha256_of_whole(whole_header(content)) == hashlib.sha256(content).hexdigest()
    read = metadata_of(metadata_header(filename=name))
    assert read == {"filename": name}
