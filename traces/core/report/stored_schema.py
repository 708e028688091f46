"""Stored results of earlier forms, turned into today's.

A stored result carries the number of its form. What is written is always the newest one; an older
one is turned into the next until it is that. Whoever changes the form raises `STORED_SCHEMA`, adds
the step from the form before, and keeps a result of that form beside the tests. A step names what
it takes over by itself: the types of today may change after it.
"""

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, TypeAlias

Stored: TypeAlias = Mapping[str, Any]

STORED_SCHEMA = 3
"""1: what only some analyses have in a bag, `extra`. 2: in typed `parts`. 3: sentences with what
fills them, so that they are worded when they are read."""


def upgraded(data: Stored) -> Stored:
    """Return a stored result in the newest form.

    Raises
    ------
    ValueError
        If it is of no form that this version reads.
    """
    while (schema := data.get("schema")) != STORED_SCHEMA:
        if schema not in _STEPS:
            raise ValueError(f"result schema {schema!r} is not one of 1 to {STORED_SCHEMA}")
        data = _STEPS[schema](data)
    return data


_NEEDED: Mapping[str, Sequence[str]] = MappingProxyType(
    {
        "firing_angles": ("firing_order", "angles_deg", "intervals", "even"),
        "which_cylinder": ("confidence", "tdc_after_event_deg"),
        "cycle_fit": ("measured", "model"),
        "twin": (
            "stall_over_mean",
            "knee_over_mean",
            "starter_share_of_inertia",
            "inertia",
            "clutch_free_share",
            "residual_share",
        ),
        "teeth_fit": ("residual_share", "spacing_error_deg", "clutch_free_share"),
        "second_compression": ("of", "on"),
        "plain": ("pattern", "relative"),
        "opened_plug": ("cylinder", "position", "names_the_others"),
        "event_angle": (
            "angle_deg",
            "spread_deg",
            "count",
            "other_angles_deg",
            "event",
            "cylinder",
            "channel",
        ),
    }
)
"""Of the first form: the figures that each part had, but for those that came later."""

_LATER: Mapping[str, Sequence[str]] = MappingProxyType(
    {"cycle_fit": ("angle_deg", "tdc_deg", "level", "rest", "begins_at", "share")}
)
_NAMED: Mapping[str, str] = MappingProxyType({"which_cylinder": "label"})
_LAYOUT = ("amps_known", "offset_deg", "explained", "first_cylinders")


def _from_extra(data: Stored) -> Stored:
    """Sort the bag of the first form into parts; a part that lacks a figure is left out."""
    extra = data["extra"]
    parts: dict[str, Any] = {}
    for name, needed in _NEEDED.items():
        told = extra.get(name) or {}
        if all(figure in told for figure in needed):
            kept = [*needed, *(f for f in _LATER.get(name, ()) if f in told)]
            parts[_NAMED.get(name, name)] = {figure: told[figure] for figure in kept}
    if "cycles" in extra:
        parts["cycle_uses"] = {
            # whether it is used follows from the reason
            "cycles": [{k: v for k, v in c.items() if k != "used"} for c in extra["cycles"]],
            "excluded": extra.get("excluded") or [],
        }
    if layout := {name: extra[name] for name in _LAYOUT if name in extra}:
        parts["layout"] = layout
    if "rest_v" in extra:
        parts["voltage"] = {"rest_v": extra["rest_v"]}
    if "wheel" in extra:
        speed = extra.get("speed") or {"at_s": [], "rpm": []}
        parts["teeth"] = {
            "teeth": extra["wheel"]["teeth"],
            "missing": extra["wheel"]["missing"],
            "pattern": extra.get("wheel_pattern") or "",
            "speed_at_s": speed["at_s"],
            "speed_rpm": speed["rpm"],
            "speed_by_angle": extra.get("speed_by_angle") or [],
        }
    rest = {name: value for name, value in data.items() if name != "extra"}
    return rest | {"schema": 2, "parts": parts}


def _from_told(data: Stored) -> Stored:
    """Name what a finding says; sentences that stand as they were told are read as they are."""
    findings = [
        {name: value for name, value in found.items() if name not in {"message", "remedy"}}
        | {"seen": found["message"], "to_do": found["remedy"]}
        for found in data["findings"]
    ]
    return {**data, "schema": 3, "findings": findings}


_STEPS: Mapping[object, Callable[[Stored], Stored]] = MappingProxyType(
    {1: _from_extra, 2: _from_told}
)
"""From each older form to the next one."""
