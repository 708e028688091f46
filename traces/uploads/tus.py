"""What requests of the tus protocol say in their headers (tus.io, version 1.0.0)."""

import base64
import binascii
import hashlib
import hmac
import re
from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext

VERSION = "1.0.0"
EXTENSIONS = "creation,checksum,expiration,termination"
PART_TYPE = "application/offset+octet-stream"
MOST_METADATA = 8000
"""Characters of metadata that are kept; servers in between take little more in one header."""

DIGEST_BYTES = {"sha1": 20, "sha256": 32}
"""Checksum algorithms; the protocol asks for SHA-1, clients of ours send SHA-256."""

_NUMBER = re.compile(r"[0-9]{1,15}")
_KEY = re.compile(r"[!-+\--~]+")
_HEX_SHA256 = re.compile(r"[0-9a-fA-F]{64}")
_DIGEST = re.compile(r"([a-z*][a-z0-9_.*-]*)=:([A-Za-z0-9+/=]*):")


class TusHeaderError(ValueError):
    """A header cannot be read; the text is one sentence that says how it should be."""


@dataclass(frozen=True, slots=True)
class Checksum:
    """The digest that a part should have.

    Parameters
    ----------
    algorithm
        A key of `DIGEST_BYTES`.
    digest
        As many bytes as the algorithm makes.
    """

    algorithm: str
    digest: bytes

    def matches(self, data: bytes) -> bool:
        """Return whether `data` is what its sender had."""
        found = hashlib.new(self.algorithm, data, usedforsecurity=False).digest()
        return hmac.compare_digest(found, self.digest)


def number_of(headers: Mapping[str, str], name: str) -> int:
    """Read `Upload-Offset` or `Upload-Length`.

    Raises
    ------
    TusHeaderError
        If it is missing or no count of bytes.
    """
    text = headers.get(name, "")
    if not _NUMBER.fullmatch(text):
        raise TusHeaderError(gettext("Give “%(name)s” as a number of bytes.") % {"name": name})
    return int(text)


def checksum_of(header: str) -> Checksum | None:
    """Read `Upload-Checksum`; None without one.

    Raises
    ------
    TusHeaderError
        If the algorithm is none of ours, or the digest is none of its length.
    """
    if not header:
        return None
    algorithm, _, text = header.partition(" ")
    size = DIGEST_BYTES.get(algorithm)
    digest = _base64(text)
    if size is None or digest is None or len(digest) != size:
        names = gettext(" or ").join(DIGEST_BYTES)
        raise TusHeaderError(
            gettext("Give “Upload-Checksum” as %(names)s, a blank, and the digest in base64.")
            % {"names": names}
        )
    return Checksum(algorithm, digest)


def metadata_of(header: str) -> dict[str, str]:
    """Read `Upload-Metadata`: pairs of key and value, the value in base64 or left out.

    Raises
    ------
    TusHeaderError
        If it is no such list, names a key twice, or is longer than what is kept.
    """
    found: dict[str, str] = {}
    pairs = [pair.strip() for pair in header.split(",")] if header.strip() else []
    for pair in pairs:
        key, _, text = pair.partition(" ")
        value = _base64(text)
        if not _KEY.fullmatch(key) or key in found or value is None:
            raise TusHeaderError(
                gettext(
                    "Give “Upload-Metadata” as pairs, each a key, a blank and a value in base64."
                )
            )
        found[key] = value.decode(errors="replace")
    if len(header) > MOST_METADATA:
        raise TusHeaderError(
            gettext("Keep “Upload-Metadata” to %(most_metadata)s characters.")
            % {"most_metadata": MOST_METADATA}
        )
    return found


def file_name_of(metadata: Mapping[str, str]) -> str:
    """Return what the sender calls the file; clients differ in the key."""
    return metadata.get("filename") or metadata.get("name") or ""


def sha256_of_metadata(metadata: Mapping[str, str]) -> str:
    """Return the whole file's SHA-256 in hexadecimal digits; "" where the sender gives none.

    Raises
    ------
    TusHeaderError
        If it is none.
    """
    text = metadata.get("sha256", "")
    if text and not _HEX_SHA256.fullmatch(text):
        raise TusHeaderError(gettext("Give the metadata “sha256” as 64 hexadecimal digits."))
    return text.lower()


def sha256_of_whole(header: str) -> str:
    """Read the whole file's SHA-256 from `Repr-Digest` (RFC 9530); "" without one.

    A sender that reads its file only once knows it with the last part. The header is a
    dictionary whose values are byte sequences (RFC 8941): digests by other algorithms may stand
    beside it and are passed over.

    Raises
    ------
    TusHeaderError
        If the header is no such dictionary, or the digest is none of that length.
    """
    found = ""
    for member in filter(None, (one.strip() for one in header.split(","))):
        match = _DIGEST.fullmatch(member)
        value = _base64(match.group(2)) if match else None
        if match is None or value is None:
            raise _no_digest()
        if match.group(1) == "sha-256":
            # Of one name that stands twice the last counts (RFC 8941, section 4.2.2).
            if len(value) != DIGEST_BYTES["sha256"]:
                raise _no_digest()
            found = value.hex()
    return found


def _base64(text: str) -> bytes | None:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return None


def _no_digest() -> TusHeaderError:
    return TusHeaderError(gettext("Give the SHA-256 in base64, as “sha-256=:…:” between colons."))
