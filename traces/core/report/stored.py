"""A report's parts to and from the JSON that results are stored in."""

from collections.abc import Mapping
from dataclasses import asdict
from types import MappingProxyType
from typing import Any, TypeVar

from engines.core.spacing import FiringAngles
from traces.core.report.cycle_uses import CycleUse, CycleUses, Excluded
from traces.core.report.parts import (
    CycleFit,
    JudgedLayout,
    LabelConfidence,
    MeasuredEventAngle,
    OpenedPlug,
    PlainFigures,
    ReportParts,
    SecondCompression,
    TeethFit,
    ToothFigures,
    TwinFigures,
    VoltageFigures,
)

_PLAIN_PARTS: Mapping[str, type[Any]] = MappingProxyType(
    {
        "firing_angles": FiringAngles,
        "layout": JudgedLayout,
        "label": LabelConfidence,
        "cycle_fit": CycleFit,
        "twin": TwinFigures,
        "teeth_fit": TeethFit,
        "second_compression": SecondCompression,
        "plain": PlainFigures,
        "opened_plug": OpenedPlug,
        "voltage": VoltageFigures,
        "teeth": ToothFigures,
        "event_angle": MeasuredEventAngle,
    }
)
"""The parts whose fields are plain values or rows of them."""

_PartT = TypeVar("_PartT")


def parts_json(parts: ReportParts) -> dict[str, Any]:
    """Return the parts that are there as plain JSON values, by name."""
    return {name: _listed(part) for name, part in asdict(parts).items() if part is not None}


def parts_from(data: Mapping[str, Any]) -> ReportParts:
    """Read what `parts_json` wrote.

    Raises
    ------
    TypeError
        If a part is not known, or lacks a field or has one more.
    """
    found = {
        name: _part(_PLAIN_PARTS[name], part) for name, part in data.items() if name in _PLAIN_PARTS
    }
    rest = {name: part for name, part in data.items() if name not in _PLAIN_PARTS}
    uses = rest.pop("cycle_uses", None)
    if rest:
        raise TypeError(f"unknown parts of a result: {', '.join(rest)}")
    return ReportParts(**found, cycle_uses=_cycle_uses(uses) if uses is not None else None)


def _listed(value: object) -> Any:  # noqa: ANN401 - JSON values
    if isinstance(value, Mapping):
        return {name: _listed(part) for name, part in value.items()}
    return [_listed(part) for part in value] if isinstance(value, tuple | list) else value


def _tupled(value: object) -> Any:  # noqa: ANN401 - JSON values
    return tuple(_tupled(part) for part in value) if isinstance(value, list) else value


def _part(kind: type[_PartT], data: Mapping[str, Any]) -> _PartT:
    return kind(**{name: _tupled(value) for name, value in data.items()})


def _cycle_uses(data: Mapping[str, Any]) -> CycleUses:
    return CycleUses(
        tuple(_part(CycleUse, cycle) for cycle in data["cycles"]),
        tuple(_part(Excluded, span) for span in data["excluded"]),
    )
