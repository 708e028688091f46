"""Which part of a file a request carries, and the digest it should have, as its headers say."""

import base64
import binascii
import re
from collections.abc import Mapping
from dataclasses import dataclass

_RANGE = re.compile(r"bytes (\d{1,15})-(\d{1,15})/(\d{1,15})", re.ASCII | re.IGNORECASE)
_DIGEST = re.compile(r"([a-z*][a-z0-9_.*-]*)=:([A-Za-z0-9+/=]*):", re.ASCII)
_SHA256_BYTES = 32


class PartHeaderError(ValueError):
    """A header cannot be read; the text is one sentence that says how it should be."""


@dataclass(frozen=True, slots=True)
class PartRange:
    """Where a part lies in its file.

    Parameters
    ----------
    start
        The first byte, counted from 0.
    stop
        The byte after the last one.
    total
        The whole file's length.
    """

    start: int
    stop: int
    total: int

    @property
    def size(self) -> int:
        """The part's length."""
        return self.stop - self.start


@dataclass(frozen=True, slots=True)
class PartHead:
    """What a request says of the part that it carries.

    Parameters
    ----------
    place
        Where the part lies in its file.
    digest
        The part's SHA-256.
    whole
        The whole file's SHA-256, where the sender can tell it.
    """

    place: PartRange
    digest: bytes
    whole: bytes | None = None


def part_head(headers: Mapping[str, str]) -> PartHead:
    """Read what a request's headers say of its part.

    Raises
    ------
    PartHeaderError
        If one is missing or cannot be read.
    """
    place = part_range(headers.get("Content-Range", ""))
    digest = sha256_of(headers.get("Content-Digest", ""))
    if digest is None:
        raise PartHeaderError("Send the part's digest as “Content-Digest: sha-256=:…:”.")
    return PartHead(place, digest, sha256_of(headers.get("Repr-Digest", "")))


def part_range(header: str) -> PartRange:
    """Read `Content-Range` (RFC 9110, section 14.4).

    Raises
    ------
    PartHeaderError
        If it names no part of a file of known length.
    """
    match = _RANGE.fullmatch(header.strip())
    if match:
        first, last, total = map(int, match.groups())
        if first <= last < total:
            return PartRange(first, last + 1, total)
    raise PartHeaderError(
        "Say which bytes these are as “Content-Range: bytes FIRST-LAST/TOTAL”, counted from 0."
    )


def sha256_of(header: str) -> bytes | None:
    """Read the SHA-256 from `Content-Digest` or `Repr-Digest` (RFC 9530); None without one.

    Both are dictionaries whose values are byte sequences (RFC 8941): digests by other
    algorithms may stand beside it and are passed over.

    Raises
    ------
    PartHeaderError
        If the header is no such dictionary, or the digest is none of that length.
    """
    found = None
    for member in filter(None, (one.strip() for one in header.split(","))):
        match = _DIGEST.fullmatch(member)
        if match is None:
            raise _no_digest()
        name, text = match.groups()
        if name == "sha-256":
            # Of one name that stands twice the last counts (RFC 8941, section 4.2.2).
            found = _sha256_bytes(text)
    return found


def _sha256_bytes(text: str) -> bytes:
    try:
        value = base64.b64decode(text, validate=True)
    except binascii.Error:
        raise _no_digest() from None
    if len(value) != _SHA256_BYTES:
        raise _no_digest()
    return value


def _no_digest() -> PartHeaderError:
    return PartHeaderError("Give the SHA-256 in base64, as “sha-256=:…:” between colons.")
