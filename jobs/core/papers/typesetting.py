"""Have a sheet set as PDF, by a process whose time and memory are bounded."""

import json
import os
import re
import subprocess
import sys
from enum import StrEnum
from itertools import groupby
from pathlib import Path
from threading import BoundedSemaphore

from jobs.core.papers.font_coverage import PLAIN, Fonts
from jobs.core.papers.sheet_tree import Node, Sheet, sheet_text

LONGEST_CHARACTERS = 400_000
"""Of one paper; beyond that nobody reads it on paper."""
_MOST_S = 20.0
_MOST_AT_ONCE = 2
_LONGEST_WAIT_S = 20.0
_SVG_WORDS = re.compile(r"(?<=>)([^<>]*[^\x00-\x7f<>][^<>]*)(?=<)")
_ROOT = Path(__file__).resolve().parents[3]
_turns = BoundedSemaphore(_MOST_AT_ONCE)


class PaperSize(StrEnum):
    """Paper of a shop, by the names that the typesetter has for them."""

    A4 = "a4"
    LETTER = "us-letter"


class TypesettingError(Exception):
    """A paper could not be set: too long, or its process did not finish."""


def typeset(sheet: Sheet, *, title: str, language: str, paper: PaperSize, fonts: Fonts) -> bytes:
    """Return a sheet as PDF; the same bytes for the same sheet.

    What no font has is named by its number, as [U+13000], instead of an empty box.

    Raises
    ------
    TypesettingError
        The sheet is too long, or setting it took too much time or memory.
    """
    text = sheet_text(sheet)
    if len(text) > LONGEST_CHARACTERS:
        raise TypesettingError("too-long")
    missing = frozenset(fonts.lacking(text + title))
    document = {
        "title": _named(title, missing),
        "language": language,
        "paper": paper.value,
        "families": fonts.families,
        "classes": sheet.classes,
        "nodes": [_node(node, missing, fonts) for node in sheet.nodes],
    }
    given = json.dumps({"document": document, "folders": fonts.folders}).encode()
    if not _turns.acquire(timeout=_LONGEST_WAIT_S):
        raise TypesettingError("no-turn")
    try:
        return _set(given)
    finally:
        _turns.release()


def _set(given: bytes) -> bytes:
    paths = [str(_ROOT), os.environ.get("PYTHONPATH", "")]
    environment = os.environ | {
        "PYTHONPATH": os.pathsep.join(filter(None, paths)),
        "RAYON_NUM_THREADS": "1",
    }
    try:
        done = subprocess.run(
            [sys.executable, "-m", "jobs.core.papers.typesetter"],
            input=given,
            capture_output=True,
            env=environment,
            timeout=_MOST_S,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise TypesettingError("out-of-time") from error
    if done.returncode or not done.stdout.startswith(b"%PDF-"):
        raise TypesettingError(done.stderr.decode(errors="replace")[-2000:])
    return done.stdout


def _node(node: Node, missing: frozenset[str], fonts: Fonts) -> Node:
    if isinstance(node, str):
        return _named(node, missing)
    changed = dict(node, k=[_node(inside, missing, fonts) for inside in node["k"]])
    if "svg" in node:
        named = _named(node["svg"], missing)
        changed["svg"] = _SVG_WORDS.sub(lambda found: _with_families(found[1], fonts), named)
        changed["alt"] = _named(node["alt"], missing)
    return changed


def _with_families(words: str, fonts: Fonts) -> str:
    """Return words of a drawing with the family named of all that the plain one lacks.

    Inside drawings the typesetter does not always find it by itself.
    """
    parts = []
    for family, run in groupby(words, key=lambda c: fonts.family_of(c) or PLAIN):
        text = "".join(run)
        if family == PLAIN:
            parts.append(text)
        else:
            parts += ["<tspan", f' font-family="{family}"', ">", text, "</tspan>"]
    return "".join(parts)


def _named(text: str, missing: frozenset[str]) -> str:
    if not missing:
        return text
    return "".join(f"[U+{ord(c):04X}]" if c in missing else c for c in text)
