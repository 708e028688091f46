"""A sheet's markup as a tree of plain values that the typesetter is given as data.

Only our own templates are read, and what people typed stands escaped in them: it arrives as text
and stays text. Nothing of it is ever part of a program.
"""

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from html import unescape
from html.parser import HTMLParser
from typing import Any

Node = dict[str, Any] | str
"""A text, or `t` (tag), `c` (classes), `k` (nodes inside) and what some tags have beside."""

LONGEST_WORD = 30
"""Characters of a word that no line breaks; longer ones may break anywhere."""

_BLOCKS = frozenset(
    {
        "article",
        "header",
        "div",
        "section",
        "h1",
        "h2",
        "h3",
        "p",
        "ul",
        "ol",
        "li",
        "dl",
        "dt",
        "dd",
    }
    | {"table", "thead", "tbody", "tr", "th", "td", "blockquote", "figure", "svg", "hr", "caption"}
)
_HOLDS_LINES = frozenset({"p", "h1", "h2", "h3", "dt", "caption"})
"""Tags that hold words and no blocks."""
_HOLDS_ROWS = frozenset({"ul", "ol", "dl", "table", "thead", "tbody", "tr"})
"""Tags in which bare words mean nothing."""
_VOID = frozenset({"br", "hr", "img", "input", "link", "meta", "wbr"})
_LEFT_OUT_TAGS = frozenset(
    {"form", "button", "script", "style", "figcaption", "details", "input", "template"}
)
_LEFT_OUT_CLASSES = frozenset({"no-print", "unseen"})
_WRITTEN = "written"
"""The class of what people wrote in several lines."""
_SVG = re.compile(r"<svg\b.*?</svg>", re.DOTALL)
_ATTRIBUTE = re.compile(r'(?<![-\w])(aria-label|class|width|height)="([^"]*)"')
_SPACE = re.compile(r"[ \t\r\n\f]+")
# what turns the direction of everything after it: U+202A to U+202E and U+2066 to U+2069
_TURNS = re.compile("[\u202a-\u202e\u2066-\u2069]")
_MOST_MARKS = 6
"""Marks kept on one letter: no script needs more, and a tower of them covers the lines above."""
_LONG_WORD = re.compile(rf"\S{{{LONGEST_WORD + 1},}}")
_BREAK = "\u200b"
_JOINERS = frozenset("\u200c\u200d\ufe0e\ufe0f")


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet as the typesetter takes it.

    Parameters
    ----------
    classes
        Those of the sheet itself, which say how it is laid out.
    nodes
        Its parts.
    """

    classes: tuple[str, ...]
    nodes: tuple[Node, ...]


def read_sheet(markup: str) -> Sheet:
    """Return the tree of a sheet.

    Raises
    ------
    ValueError
        The markup holds no `article`.
    """
    drawings: list[str] = []

    def kept_aside(found: re.Match[str]) -> str:
        # names in drawings tell capitals apart, which the reader of markup does not
        drawings.append(found.group())
        return f"<wbr {len(drawings) - 1}>"

    reader = _Reader(drawings)
    reader.feed(_SVG.sub(kept_aside, markup))
    reader.close()
    article = next(
        (n for n in reader.root["k"] if isinstance(n, dict) and n["t"] == "article"), None
    )
    if article is None:
        raise ValueError("article")
    return Sheet(tuple(article["c"]), tuple(_blocks(article["k"], is_written=False)))


def sheet_text(sheet: Sheet) -> str:
    """Return all words of a sheet, those inside drawings too, a space between any two parts."""
    return " ".join(text for node in sheet.nodes for text in _texts(node))


def _texts(node: Node) -> Iterator[str]:
    if isinstance(node, str):
        yield node
        return
    if node["t"] == "svg":
        yield unescape(re.sub(r"<[^>]*>", " ", node["svg"]))
    for inner in node["k"]:
        yield from _texts(inner)


class _Reader(HTMLParser):
    """Reads markup into nested nodes as they stand."""

    def __init__(self, drawings: list[str]) -> None:
        super().__init__(convert_charrefs=True)
        self.root: dict[str, Any] = {"t": "", "c": [], "k": []}
        self._open = [self.root]
        self._left_out = 0
        self._drawings = drawings

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        classes = (given.get("class") or "").split()
        is_void = tag in _VOID
        if self._left_out or tag in _LEFT_OUT_TAGS or _LEFT_OUT_CLASSES.intersection(classes):
            self._left_out += not is_void
            return
        if tag == "wbr" and attrs:
            self._open[-1]["k"].append(_drawing(self._drawings[int(attrs[0][0])]))
            return
        node: dict[str, Any] = {"t": tag, "c": classes, "k": []}
        if tag in {"td", "th"}:
            node["span"] = int(given.get("colspan") or 1)
        self._open[-1]["k"].append(node)
        if not is_void:
            self._open.append(node)

    def handle_endtag(self, tag: str) -> None:
        if tag in _VOID:
            return
        if self._left_out:
            self._left_out -= 1
        elif len(self._open) > 1:
            self._open.pop()

    def handle_data(self, data: str) -> None:
        if not self._left_out:
            self._open[-1]["k"].append(data)


def _drawing(markup: str) -> dict[str, Any]:
    given = {name: unescape(value) for name, value in _ATTRIBUTE.findall(markup.partition(">")[0])}
    plain = markup.replace('font-family="sans-serif"', 'font-family="Noto Sans"')
    return {
        "t": "svg",
        "c": given.get("class", "").split(),
        "k": [],
        "svg": plain,
        "alt": given.get("aria-label", "") or "drawing",
        "wide": float(given.get("width", 1)),
        "high": float(given.get("height", 1)),
    }


def _blocks(nodes: list[Node], *, is_written: bool) -> list[Node]:
    """Return nodes of which each is a block; words that stand bare become paragraphs."""
    found: list[Node] = []
    bare: list[Node] = []

    def settle() -> None:
        line = _line(bare, is_written=is_written)
        if line:
            found.append({"t": "p", "c": [], "k": line})
        bare.clear()

    for node in nodes:
        if isinstance(node, dict) and node["t"] in _BLOCKS:
            settle()
            found.append(_block(node, is_written=is_written))
        else:
            bare.append(node)
    settle()
    return found


def _block(node: dict[str, Any], *, is_written: bool) -> dict[str, Any]:
    written = is_written or _WRITTEN in node["c"]
    if node["t"] in _HOLDS_LINES:
        return node | {"k": _line(node["k"], is_written=written)}
    if node["t"] in _HOLDS_ROWS:
        rows = [n for n in node["k"] if isinstance(n, dict) and n["t"] in _BLOCKS]
        return node | {"k": [_block(row, is_written=written) for row in rows]}
    return node | {"k": _blocks(node["k"], is_written=written)}


def _line(nodes: list[Node], *, is_written: bool) -> list[Node]:
    """Return words and what stands among them, without the spaces of the markup."""
    flat: list[Node] = []
    for node in nodes:
        if isinstance(node, str):
            lines = _clean(node).split("\n") if is_written else [_clean(node)]
            for n, line in enumerate(lines):
                if n:
                    flat.append({"t": "br", "c": [], "k": []})
                flat.append(_SPACE.sub(" ", line))
        elif node["t"] == "br":
            flat.append(node)
        else:
            inner = _line_inside(node, is_written=is_written)
            flat.append(node | {"k": inner})
    return _trimmed(flat)


def _line_inside(node: dict[str, Any], *, is_written: bool) -> list[Node]:
    written = is_written or _WRITTEN in node["c"]
    return _line(node["k"], is_written=written) if node["k"] else []


def _trimmed(nodes: list[Node]) -> list[Node]:
    kept = [n for n in nodes if n != ""]
    while kept and (kept[0] == " " or _is_break(kept[0])):
        kept.pop(0)
    while kept and (kept[-1] == " " or _is_break(kept[-1])):
        kept.pop()
    return kept


def _is_break(node: Node) -> bool:
    return isinstance(node, dict) and node["t"] == "br"


def _clean(text: str) -> str:
    """Return a text without what would spoil the page: turned directions, towers, huge words."""
    text = _TURNS.sub("", text).replace("\r\n", "\n").replace("\r", "\n")
    kept: list[str] = []
    marks = 0
    for character in text:
        category = unicodedata.category(character)
        if category in {"Cc", "Cs", "Co", "Cn"} and character not in "\n\t":
            # no font has them; a person sees that something stood there
            kept.append("\ufffd")
            continue
        marks = marks + 1 if category in {"Mn", "Me"} else 0
        if marks <= _MOST_MARKS:
            kept.append(character)
    return _LONG_WORD.sub(_breakable, "".join(kept))


def _breakable(word: re.Match[str]) -> str:
    parts: list[str] = []
    since = 0
    for character in word.group():
        is_bound = character in _JOINERS or unicodedata.category(character)[0] == "M"
        if since >= LONGEST_WORD // 2 and not is_bound and parts[-1] not in _JOINERS:
            parts.append(_BREAK)
            since = 0
        parts.append(character)
        since += 1
    return "".join(parts)
