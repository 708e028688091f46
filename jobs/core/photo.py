"""Pictures as they are kept: upright JPEG without what cameras write into files."""

import threading
from io import BytesIO
from typing import IO

from PIL import Image, ImageOps

from shopdiag.people.core.words import gettext as _

FORMATS = ("JPEG", "PNG", "WEBP", "GIF", "BMP")
# A JPEG is decoded at a fraction of its size; other formats are unpacked whole.
MAX_PIXELS = {"JPEG": 80_000_000}
MAX_PIXELS_WHOLE = 25_000_000
LONG_SIDE_PX = 2560
# Brands of a file in ISO/IEC 23008-12 (HEIF): HEVC and AV1 pictures, and the general ones.
_PHONE_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif"}
_QUALITY = 85
_SCALED_AS_THEY_ARE = {"RGB", "RGBA", "L", "LA", "CMYK", "YCbCr"}
_one_at_a_time = threading.Lock()
"""A picture unpacks to a hundred megabytes; several at once would be the whole machine's."""


class PhotoError(ValueError):
    """The file is no picture that can be kept; the words say what to do."""


def photo_clean(file: IO[bytes]) -> bytes:
    """Return the picture as a new JPEG: upright, at most 2560 pixels on its long side.

    Decoding and encoding anew drops place, device, preview and comments, and whatever else
    may hide in an uploaded file.

    Raises
    ------
    PhotoError
        If the file is not a picture, is cut short, or would unpack to too many pixels.
    """
    head = file.read(12)
    file.seek(0)
    if head[4:8] == b"ftyp" and head[8:12] in _PHONE_BRANDS:
        raise PhotoError(
            _(
                "This is a HEIC or AVIF picture, which is not taken in; send it as JPEG: "
                "share it from the phone as “most compatible”, or set the camera to that."
            )
        )
    with _one_at_a_time:
        return _cleaned(file)


def _cleaned(file: IO[bytes]) -> bytes:
    try:
        with Image.open(file, formats=FORMATS) as opened:
            limit = MAX_PIXELS.get(opened.format or "", MAX_PIXELS_WHOLE)
            if opened.width * opened.height > limit:
                raise PhotoError(_too_large(opened.width, opened.height))
            opened.draft("RGB", (LONG_SIDE_PX, LONG_SIDE_PX))
            upright = ImageOps.exif_transpose(opened)
            picture = _flat(upright)
    except PhotoError:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise PhotoError(
            _("This picture would unpack to far too many pixels; send it smaller.")
        ) from None
    except (OSError, ValueError, SyntaxError, EOFError, IndexError, KeyError, TypeError):
        raise PhotoError(
            _("This file is not a picture that can be read; send it as JPEG, PNG or WebP.")
        ) from None
    # What the decoder noted about the file (comments, profiles) would be written again.
    picture.info.clear()
    out = BytesIO()
    picture.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue()


def _flat(picture: Image.Image) -> Image.Image:
    """Return the picture small and in RGB; what was see-through becomes white."""
    see_through = picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info
    if picture.mode in _SCALED_AS_THEY_ARE and "transparency" not in picture.info:
        # small before another copy in other colours is made
        picture.thumbnail((LONG_SIDE_PX, LONG_SIDE_PX))
    small = picture.convert("RGBA" if see_through else "RGB")
    small.thumbnail((LONG_SIDE_PX, LONG_SIDE_PX))
    if not see_through:
        return small
    white = Image.new("RGBA", small.size, "white")
    return Image.alpha_composite(white, small).convert("RGB")


def _too_large(width: int, height: int) -> str:
    return _(
        "This picture has {width} × {height} pixels, which is too many; send it smaller."
    ).format(width=width, height=height)
