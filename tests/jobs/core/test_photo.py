from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from jobs.core.photo import LONG_SIDE_PX, MAX_PIXELS_WHOLE, PhotoError, photo_clean
from tests.wording import says

_ORIENTATION = 0x0112
_MAKE = 0x010F
_GPS = 0x8825


def encoded(picture: Image.Image, kind: str, **options: object) -> BytesIO:
    out = BytesIO()
    picture.save(out, kind, **options)
    out.seek(0)
    return out


def opened(content: bytes) -> Image.Image:
    return Image.open(BytesIO(content))


def test_place_and_device_are_dropped_and_the_picture_stands_upright():
    picture = Image.new("RGB", (40, 20), "white")
    picture.paste("black", (0, 0, 20, 20))
    exif = Image.Exif()
    exif[_ORIENTATION] = 6  # turn right to see it upright
    exif[_MAKE] = "Somebody's phone"
    exif[_GPS] = {1: "N", 2: (52.0, 31.0, 0.0)}
    content = photo_clean(encoded(picture, "JPEG", exif=exif, comment=b"private"))
    kept = opened(content)
    assert kept.format == "JPEG"
    assert kept.size == (20, 40)
    grey = np.asarray(kept.convert("L"))
    assert grey[5, 10] < 60  # the black half is now above
    assert grey[35, 10] > 200
    assert dict(kept.getexif()) == {}
    assert b"private" not in content
    assert b"Somebody" not in content


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "GIF", "BMP"])
def test_formats_that_phones_and_borescopes_send(kind):
    assert opened(photo_clean(encoded(Image.new("RGB", (30, 20), "red"), kind))).size == (30, 20)


def test_see_through_becomes_white():
    kept = opened(photo_clean(encoded(Image.new("RGBA", (8, 8), (0, 0, 0, 0)), "PNG")))
    assert kept.getpixel((4, 4)) == (255, 255, 255)


def test_large_pictures_are_kept_smaller():
    kept = opened(photo_clean(encoded(Image.new("RGB", (4000, 1000), "red"), "JPEG")))
    assert kept.width <= LONG_SIDE_PX
    assert kept.width / kept.height == pytest.approx(4, rel=0.01)


@pytest.mark.parametrize(
    "content", [b"", b"this is a text", b"\xff\xd8\xff\xe0 cut short", b"<svg/>"]
)
def test_what_is_no_picture_is_told(content):
    with pytest.raises(PhotoError) as refused:
        photo_clean(BytesIO(content))
    assert says(refused.value, "photo.file-not-picture-can")


def test_a_picture_cut_short_is_told():
    whole = encoded(Image.effect_noise((200, 200), 80).convert("RGB"), "JPEG").getvalue()
    with pytest.raises(PhotoError) as refused:
        photo_clean(BytesIO(whole[: len(whole) // 2]))
    assert says(refused.value, "photo.file-not-picture-can")


def test_a_small_file_that_unpacks_to_very_many_pixels_is_refused():
    side = int(MAX_PIXELS_WHOLE**0.5) + 10
    bomb = encoded(Image.new("1", (side, side)), "PNG")
    assert len(bomb.getvalue()) < 100_000
    with pytest.raises(PhotoError) as refused:
        photo_clean(bomb)
    assert says(refused.value, "photo.picture--pixels-too")


def test_a_bomb_beyond_the_librarys_own_limit_is_refused():
    bomb = encoded(Image.new("1", (14_000, 14_000)), "PNG")
    with pytest.raises(PhotoError) as refused:
        photo_clean(bomb)
    assert says(refused.value, "photo.picture-would-unpack-far")


@pytest.mark.parametrize("brand", [b"heic", b"mif1", b"avif"])
def test_a_phones_own_format_is_told_by_name_with_a_way_out(brand):
    # ISO/IEC 14496-12, 4.3: size, "ftyp", major brand, version, compatible brands.
    file = b"\x00\x00\x00\x18ftyp" + brand + b"\x00\x00\x00\x00mif1heic" + bytes(64)
    with pytest.raises(PhotoError, match=r"HEIC or AVIF.*send it as JPEG"):
        photo_clean(BytesIO(file))


def test_a_film_is_not_taken_for_a_phones_picture():
    file = b"\x00\x00\x00\x18ftypisom\x00\x00\x00\x00isommp42" + bytes(64)
    with pytest.raises(PhotoError) as refused:
        photo_clean(BytesIO(file))
    assert says(refused.value, "photo.file-not-picture-can")
