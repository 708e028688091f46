"""Templates name figures of a report that are there: a wrong name shows nothing, in silence."""

import re
from dataclasses import fields, is_dataclass
from pathlib import Path
from types import NoneType
from typing import Any, get_args, get_type_hints

import pytest

from traces.core.report.parts import MeasuredEventAngle
from traces.core.report.results import Report

TEMPLATES = Path(__file__).parents[4] / "templates"
_NAMED = re.compile(r"\breport((?:\.[a-z_]+)+)")
_ANGLE = re.compile(r"\bangle((?:\.[a-z_]+)+)")


def named(pattern: re.Pattern[str], *places: str) -> set[str]:
    files = [TEMPLATES / place for place in places] or sorted(TEMPLATES.rglob("*.html"))
    found = (pattern.findall(path.read_text(encoding="utf-8")) for path in files)
    return {name[1:] for names in found for name in names}


def is_there(kind: Any, name: str) -> bool:
    """Return whether a dotted name leads from figure to figure."""
    for part in name.split("."):
        if not is_dataclass(kind):
            return False
        known = {f.name for f in fields(kind)}
        if part not in known:
            return isinstance(getattr(kind, part, None), property) and name.endswith(part)
        hinted = get_type_hints(kind)[part]
        kind = next((k for k in get_args(hinted) if k is not NoneType), hinted)
    return True


def test_of_a_report() -> None:
    found = named(_NAMED)
    assert "parts.firing_angles.intervals" in found
    assert [name for name in sorted(found) if not is_there(Report, name)] == []


def test_of_an_event_s_angle() -> None:
    found = named(_ANGLE, "traces/_how_recorded.html")
    assert "spread_deg" in found
    assert [name for name in sorted(found) if not is_there(MeasuredEventAngle, name)] == []


@pytest.mark.parametrize(
    "name", ["extra", "extra.event_angle", "parts.angle", "parts.firing_angles.interval"]
)
def test_what_is_not_there_is_noticed(name: str) -> None:
    assert not is_there(Report, name)
