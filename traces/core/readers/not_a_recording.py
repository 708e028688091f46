"""Files that are no recording: say what they are and what to choose instead."""

from shopdiag.people.core.words import Text, say
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import Source

_WANTED = say("save the recording as CSV or WAV and choose that file")

# File signatures as their formats publish them.
_SIGNATURES: tuple[tuple[bytes, Text], ...] = (
    (b"\x89PNG\r\n\x1a\n", say("a picture (PNG)")),
    (b"\xff\xd8\xff", say("a picture (JPEG)")),
    (b"GIF8", say("a picture (GIF)")),
    (b"BM", say("a picture (BMP)")),
    (b"II*\x00", say("a picture (TIFF)")),
    (b"MM\x00*", say("a picture (TIFF)")),
    (b"%PDF", say("a PDF document")),
    (b"PK\x03\x04", say("a ZIP archive or an office document")),
    (b"\x1f\x8b", say("a compressed archive")),
    (b"7z\xbc\xaf\x27\x1c", say("a compressed archive")),
    (b"Rar!", say("a compressed archive")),
    (b"\x7fELF", say("a program")),
    (b"MZ", say("a program")),
    (b"\xd0\xcf\x11\xe0", say("an office document")),
)


def is_foreign(head: bytes) -> bool:
    """Return whether the file begins like something else, past mistaking it for text."""
    return any(
        head.startswith(signature)
        for signature, _ in _SIGNATURES
        if signature == b"%PDF"
        or not signature.decode("latin-1").isprintable()
        or not signature.isascii()
    )


def is_office(head: bytes) -> bool:
    """Return whether a ZIP archive begins like an office document (ECMA-376 part 2)."""
    return head.startswith(b"PK\x03\x04") and head[30:49] == b"[Content_Types].xml"


def refusal_of(source: Source) -> ReadError:
    """Return the error whose sentence fits a file that no reader took."""
    if source.head[4:12] in (b"ftypheic", b"ftypheix", b"ftypmif1"):
        return ReadError(
            say("This is a picture (HEIC), not a recording; {wanted}.", wanted=_WANTED)
        )
    if source.head[8:12] == b"WEBP":
        return ReadError(
            say("This is a picture (WebP), not a recording; {wanted}.", wanted=_WANTED)
        )
    if is_office(source.head):
        return ReadError(
            say("This is an office document, not a recording; {wanted}.", wanted=_WANTED)
        )
    for signature, kind in _SIGNATURES:
        if source.head.startswith(signature):
            return ReadError(
                say("This is {kind}, not a recording; {wanted}.", kind=kind, wanted=_WANTED)
            )
    return ReadError(say("This kind of file is not known here; {wanted}.", wanted=_WANTED))
