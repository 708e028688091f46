"""What a stranger's JSON says, held against what there is to say: by kind, limits and form.

Whatever is not as it should be raises `ValueError`, or what Python raises on a wrong kind.
"""

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any, get_args

from engines.core.firing import CYCLE_DEG, MOST_CYLINDERS
from traces.core.findings import Severity
from traces.core.report import SCHEMA, BankCall, Call, Verdict
from traces.core.setup import (
    BANK_EVEN_WITHIN,
    AnalysisSetup,
    AngleFrom,
    CrankedBy,
    Flywheel,
    Fuel,
    SyncEvent,
    SyncEvery,
)
from traces.core.signal_kinds import SIGNAL_KINDS

_MOST_SETS, _MOST_FINDINGS = 64, 100
_WHEEL = re.compile(r"\d{1,3}(?:-\d{1,2}|\+1)[-\d]{0,20}")
_CODE = re.compile(r"[a-z][a-z0-9-]{0,39}")


def checked_setup(data: Mapping[str, Any]) -> AnalysisSetup:
    """Read a set-up whose every value is of its kind; the dataclass checks limits only."""
    one_of(data["fuel"], get_args(Fuel))
    one_of(data["signal"], tuple(kind.code for kind in SIGNAL_KINDS))
    one_of(data["cranked_by"], get_args(CrankedBy))
    if data["invert"] is not None:
        truth(data["invert"])
    one_of(data.get("flywheel", ""), get_args(Flywheel))
    for name in ("mv_per_a", "suspect_below", "watch_below"):
        figure(data[name], 0.0, 1e9)
    for name in ("full_scale_v", "rate_hz"):
        if data[name] is not None:
            figure(data[name], 0.0, 1e9)
    _check_wheel(data["wheel"])
    for angle in data["tdc_angles"]:
        figure(angle, 0.0, 720.0)
    if data["sync"] is not None:
        _check_sync(data["sync"])
    for bank in listed(data.get("banks") or [], MOST_CYLINDERS):
        _numbers(bank, MOST_CYLINDERS)
    if data.get("opened_plug") is not None:
        whole(data["opened_plug"], 1, MOST_CYLINDERS)
    if data.get("pressure") is not None:
        _check_transducer(data["pressure"])
    # cases from before banks lack both
    figure(data.get("bank_even_within", BANK_EVEN_WITHIN), 0.0, 1.0)
    return AnalysisSetup.from_json(dict(data))


def _check_transducer(data: Mapping[str, Any]) -> None:
    for name, least, most in (
        ("kpa_per_v", 1.0, 1e5),
        ("zero_v", -1e4, 1e4),
        ("compression_ratio", 5.0, 25.0),
        ("air_kpa", 50.0, 110.0),
    ):
        if data.get(name) is not None:
            figure(data[name], least, most)
    for name in ("cylinder", "cylinders"):
        if data.get(name) is not None:
            whole(data[name], 1, MOST_CYLINDERS)


def _check_sync(data: Mapping[str, Any]) -> None:
    whole(data["cylinder"], 1, MOST_CYLINDERS)
    one_of(data["event"], get_args(SyncEvent))
    one_of(data["every_deg"], get_args(SyncEvery))
    if data["bit"] is not None:
        whole(data["bit"], 0, 31)
    # cases from before the event's angle lack both
    for name, most in (("angle_deg", CYCLE_DEG), ("angle_spread_deg", 180.0)):
        if data.get(name) is not None:
            figure(data[name], -most, most)
    one_of(data.get("angle_from"), (None, *get_args(AngleFrom)))


def _check_wheel(data: Mapping[str, Any]) -> None:
    for name in ("teeth", "missing"):
        if data[name] is not None:
            whole(data[name], 0, 1000)
    if data.get("pattern") is not None:
        like(_WHEEL, data["pattern"])


def checked_result(data: Mapping[str, Any], cylinders: int) -> dict[str, Any]:
    """Take over of a result what is shown beside one's own, and nothing else."""
    rpm = data["cranking_rpm"]
    by_number = data["cylinders"]
    sets = listed(data["candidates"], _MOST_SETS)
    return {
        "schema": one_of(data["schema"], (SCHEMA,)),
        "verdict": one_of(data["verdict"], get_args(Verdict)),
        "cylinders": None
        if by_number is None
        else [_estimate(e, "cylinder") for e in listed(by_number, cylinders)],
        "positions": [_estimate(e, "position") for e in listed(data["positions"], cylinders)],
        "candidates": [
            [whole(c, 1, MOST_CYLINDERS) for c in listed(one, MOST_CYLINDERS)] for one in sets
        ],
        **_banks(data, cylinders),
        "cranking_rpm": None if rpm is None else figure(rpm, 0.0, 1e5),
        "cycles": whole(data["cycles"], 0, 1 << 24),
        "findings": [
            {
                "code": like(_CODE, f["code"]),
                "severity": one_of(f["severity"], get_args(Severity)),
            }
            for f in listed(data["findings"], _MOST_FINDINGS)
        ],
    }


def _banks(data: Mapping[str, Any], cylinders: int) -> dict[str, Any]:
    banks, difference = data.get("banks"), data.get("bank_difference")
    if banks is None or difference is None:
        return {"banks": None, "bank_difference": None}
    return {
        "banks": [
            {
                "cylinders": _numbers(bank["cylinders"], cylinders),
                **{name: figure(bank[name], 0.0, 100.0) for name in ("mean", "low", "high")},
            }
            for bank in listed(banks, cylinders)
        ],
        "bank_difference": {
            **{name: figure(difference[name], -1e4, 1e4) for name in ("points", "low", "high")},
            "weaker": _numbers(difference["weaker"], cylinders),
            "call": one_of(difference["call"], get_args(BankCall)),
        },
    }


def _numbers(value: object, most: int) -> list[int]:
    return [whole(c, 1, MOST_CYLINDERS) for c in listed(value, most)]


def _estimate(data: Mapping[str, Any], key: str) -> dict[str, Any]:
    return {
        key: whole(data[key], 1, MOST_CYLINDERS),
        **{name: figure(data[name], 0.0, 100.0) for name in ("relative", "low", "high")},
        "call": one_of(data["call"], get_args(Call)),
    }


def listed(value: object, most: int) -> Sequence[Any]:
    """Return a list that is not too long."""
    if not isinstance(value, list) or len(value) > most:
        raise ValueError("no list, or too long")
    return value


def whole(value: object, least: int, most: int) -> int:
    """Return a whole number between two limits."""
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise ValueError("no such whole number")
    return value


def figure(value: object, least: float, most: float) -> float:
    """Return a finite number between two limits."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError("no figure")
    if not math.isfinite(value) or not least <= value <= most:
        raise ValueError("no such figure")
    return float(value)


def truth(value: object) -> bool:
    """Return true or false."""
    if not isinstance(value, bool):
        raise TypeError("neither true nor false")
    return value


def one_of(value: Any, choices: Sequence[Any]) -> Any:  # noqa: ANN401 - JSON values
    """Return one of what there is to choose."""
    if value not in choices or isinstance(value, bool):
        raise ValueError("none of what there is to choose")
    return value


def like(pattern: re.Pattern[str], value: object) -> str:
    """Return a text of a form."""
    if not isinstance(value, str) or not pattern.fullmatch(value):
        raise ValueError("not of the form")
    return value
