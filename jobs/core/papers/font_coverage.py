"""Which characters the fonts at hand have, so that no paper holds empty boxes in silence."""

import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

# A sample of each script that a name may hold; the command line names it so.
SCRIPTS: dict[str, str] = {
    "Latin": "AZazÄéłşễ",
    "Greek": "ΑΩαωή",
    "Cyrillic": "АЯаяїђ",
    "Armenian": "ԱՖաֆ",
    "Georgian": "აჰ",
    "Hebrew": "אבת",
    "Arabic": "ابيگپ",
    "Devanagari": "अहक्",
    "Bengali": "অহক্",
    "Gurmukhi": "ਅਹਕ",
    "Gujarati": "અહક",
    "Oriya": "ଅହକ",
    "Tamil": "அஹக",
    "Telugu": "అహక",
    "Kannada": "ಅಹಕ",
    "Malayalam": "അഹക",
    "Sinhala": "අහක",
    "Thai": "กขฮ",
    "Lao": "ກຂຮ",
    "Khmer": "កខអ",
    "Burmese": "ကခအ",
    "Ethiopic": "ሀለፐ",
    "Chinese": "王李张張陳国國",
    "Japanese": "山田さくらカナ",
    "Korean": "김이박뷁",
    "emoji": "😀🚗🔧",
}

PLAIN = "Noto Sans"
"""The family that papers are set in; others stand in for what it lacks."""
_SUFFIXES = frozenset({".ttf", ".otf", ".ttc", ".otc"})
_NOT_A_GLYPH = 0
_SEGMENTS, _GROUPS = 4, 12  # formats of a character map: OpenType specification, table cmap
_UNICODE = frozenset({(0, n) for n in range(7)} | {(3, 1), (3, 10)})
# what takes no room needs no glyph: joiners, marks of direction, variation selectors, tags
_NO_GLYPH_NEEDED = frozenset(
    {0xAD, 0x34F, 0x61C, 0xFEFF}
    | set(range(0x200B, 0x2010))
    | set(range(0x2028, 0x202F))
    | set(range(0x2060, 0x2070))
    | set(range(0xFE00, 0xFE10))
    | set(range(0xE0000, 0xE0FFF))
)


@dataclass(frozen=True, slots=True)
class Fonts:
    """The fonts of some folders.

    Parameters
    ----------
    folders
        Where they lie.
    families
        Their names, those of the first folder first; Latin before all others of a folder.
    by_family
        The characters that each has.
    """

    folders: tuple[str, ...]
    families: tuple[str, ...]
    by_family: tuple[frozenset[int], ...]

    def lacking(self, text: str) -> tuple[str, ...]:
        """Return the characters of a text that no font has, each once, as they come."""
        found = dict.fromkeys(c for c in text if not self._has(c))
        return tuple(found)

    def family_of(self, character: str) -> str:
        """Return the first family that has a character; empty where none has or needs it."""
        code = ord(character)
        pairs = zip(self.families, self.by_family, strict=True)
        return next((family for family, has in pairs if code in has), "")

    def _has(self, character: str) -> bool:
        if ord(character) in _NO_GLYPH_NEEDED or character.isspace():
            return True
        return bool(self.family_of(character))


def scripts_missing(fonts: Fonts) -> tuple[str, ...]:
    """Return the scripts of which the fonts lack something, in English."""
    return tuple(name for name, sample in SCRIPTS.items() if fonts.lacking(sample))


def fonts_in(folders: Iterable[Path]) -> Fonts:
    """Return what the fonts of these folders have; a folder that is not there holds none."""
    kept = tuple(folders)
    files = tuple(
        (str(path), path.stat().st_mtime_ns) for folder in kept for path in _files(folder)
    )
    return _fonts(tuple(map(str, kept)), files)


def _files(folder: Path) -> Iterator[Path]:
    if folder.is_dir():
        # plain ones first, so that digits and Latin never come from another script's font
        found = [p for p in folder.rglob("*") if p.suffix.lower() in _SUFFIXES and p.is_file()]
        yield from sorted(found, key=lambda p: (len(p.stem.partition("-")[0]), p.name))


@lru_cache(maxsize=8)
def _fonts(folders: tuple[str, ...], files: tuple[tuple[str, int], ...]) -> Fonts:
    found: dict[str, set[int]] = {}
    for path, _changed in files:
        try:
            data = Path(path).read_bytes()
            for start in _faces(data):
                tables = _tables(data, start)
                family = _family(data, tables["name"])
                found.setdefault(family, set()).update(_mapped(data, tables["cmap"]))
        except (OSError, KeyError, ValueError, struct.error, IndexError):
            continue  # no font, or a damaged one: it is not counted on
    families = sorted(found, key=lambda name: name != PLAIN)
    return Fonts(folders, tuple(families), tuple(frozenset(found[name]) for name in families))


def _faces(data: bytes) -> tuple[int, ...]:
    if data[:4] != b"ttcf":
        return (0,)
    (count,) = struct.unpack_from(">I", data, 8)
    return struct.unpack_from(f">{count}I", data, 12)


def _tables(data: bytes, start: int) -> dict[str, int]:
    (count,) = struct.unpack_from(">H", data, start + 4)
    rows = (struct.unpack_from(">4sIII", data, start + 12 + 16 * n) for n in range(count))
    return {tag.decode("latin-1"): offset for tag, _, offset, _ in rows}


def _family(data: bytes, at: int) -> str:
    """Return the family's English name: the typographic one, else the plain one."""
    _, count, strings = struct.unpack_from(">HHH", data, at)
    found: dict[int, str] = {}
    for n in range(count):
        platform, _, language, name, length, offset = struct.unpack_from(
            ">6H", data, at + 6 + 12 * n
        )
        if platform == 3 and language == 0x409 and name in {1, 16}:
            start = at + strings + offset
            found[name] = data[start : start + length].decode("utf-16-be")
    return found.get(16) or found[1]


def _mapped(data: bytes, at: int) -> set[int]:
    _, count = struct.unpack_from(">HH", data, at)
    found: set[int] = set()
    for n in range(count):
        platform, encoding, offset = struct.unpack_from(">HHI", data, at + 4 + 8 * n)
        if (platform, encoding) not in _UNICODE:
            continue
        (kind,) = struct.unpack_from(">H", data, at + offset)
        if kind == _GROUPS:
            found |= _of_groups(data, at + offset)
        elif kind == _SEGMENTS:
            found |= _of_segments(data, at + offset)
    return found


def _of_groups(data: bytes, at: int) -> set[int]:
    (count,) = struct.unpack_from(">I", data, at + 12)
    found: set[int] = set()
    for n in range(min(count, 0x10000)):
        first, last, glyph = struct.unpack_from(">III", data, at + 16 + 12 * n)
        found.update(range(first + (glyph == _NOT_A_GLYPH), min(last, 0x10FFFF) + 1))
    return found


def _of_segments(data: bytes, at: int) -> set[int]:
    (twice,) = struct.unpack_from(">H", data, at + 6)
    count = twice // 2
    ends = struct.unpack_from(f">{count}H", data, at + 14)
    starts = struct.unpack_from(f">{count}H", data, at + 16 + twice)
    deltas = struct.unpack_from(f">{count}H", data, at + 16 + 2 * twice)
    ranges_at = at + 16 + 3 * twice
    ranges = struct.unpack_from(f">{count}H", data, ranges_at)
    found: set[int] = set()
    for n, (first, last, delta, leads) in enumerate(zip(starts, ends, deltas, ranges, strict=True)):
        if not leads:
            found.update(c for c in range(first, last + 1) if (c + delta) & 0xFFFF)
            continue
        glyphs_at = ranges_at + 2 * n + leads
        most = min(last - first + 1, max((len(data) - glyphs_at) // 2, 0))
        glyphs = struct.unpack_from(f">{most}H", data, glyphs_at)
        found.update(first + k for k, glyph in enumerate(glyphs) if glyph)
    return found - {0xFFFF}
