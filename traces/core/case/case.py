"""A case: one capture with its set-up and result, and nothing that names anybody.

A ZIP archive (APPNOTE 6.3.10) of three members, in this order: `manifest.json` (JSON, RFC 8259),
`samples.npy` (NEP 1: float32, one row a channel) and `result.json`. Channels carry the names of
their parts in the test. There is no free text in it: findings are codes, and what can be chosen
is checked against what there is to choose, on the way out as on the way in.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any, Literal, TypeAlias, cast, get_args

from engines.core.layouts import LAYOUTS
from shopdiag.people.core.words import Text, say
from traces.core.case.case_checks import (
    checked_result,
    checked_setup,
    figure,
    like,
    one_of,
    truth,
    whole,
)
from traces.core.case.case_tests import CaseTest, checked_tests
from traces.core.report import BANKS_PUBLISHED, FIGURES, FIGURES_PUBLISHED, SCHEMA, Report
from traces.core.setup import AnalysisSetup, Conditions
from traces.core.signal_kinds import BATTERY, SIGNAL_KINDS, SYNC

FORMAT = "shopdiag-case"
VERSION = 1
SUFFIX = ".case.zip"
MANIFEST, SAMPLES, RESULT = "manifest.json", "samples.npy", "result.json"

Part: TypeAlias = Literal["whole", "crank"]
"""How much of the recording is in it."""

_ROLES = (SYNC, *(kind.channel_part for kind in SIGNAL_KINDS))
_UNITS = ("V", "mV", "A", "mA", "kPa", "bar", "mbar", "hPa", "psi", "MPa", "Pa")
_CLOCK_S = 3600.0
"""From an hour on a start may be a time of day or a date, and is not handed on."""

_TIMES = ("start_s", "inrush_at_s")
"""Of the starter's figures: when something was, not how long it took."""

_VERSION = re.compile(r"[0-9A-Za-z][0-9A-Za-z.+_-]{0,39}")
_FORMAT = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ]{0,29}")
_SHA256 = re.compile(r"[0-9a-f]{64}")
DAMAGED = say("This case is damaged or was changed; have it sent again.")
_LATER = say(
    "This case was made by a later version of the program; bring this installation up to date."
)
NO_CASE = say("This archive has a manifest but is no case; send the recording itself.")

_CHOICES: Mapping[str, tuple[object, ...]] = {
    "throttle": ("", "closed", "open"),
    "temperature": ("", "cold", "warm", "hot"),
}


_TROUBLE = (ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError)
"""What values of another kind bring about."""


class CaseError(Exception):
    """What a file says is no case; the text is one sentence with what to do."""

    def __init__(self, why: Text) -> None:
        super().__init__(why)
        self.why = why


@dataclass(frozen=True, slots=True)
class CaseChannel:
    """A channel by its part in the test; `unit` is None where it is not known."""

    role: str
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """What a case says besides the samples.

    Parameters
    ----------
    setup
        The sender's, with channels by their parts.
    conditions
        As the sender noted them.
    layout
        Key of the engine's layout; "" where no engine was chosen.
    channels
        In the samples' order.
    read_as
        What kind of file the sender's recording was.
    rate_hz, start_s, samples, full_scale
        As of a recording.
    part
        Whether it holds all of the recording or the crank only.
    sha256
        Of the samples: rows one after the other, little-endian float32.
    code_version
        Of the program that made the sender's result.
    result
        The sender's, in the published form, without its sentences.
    tests
        What was tested on the engine besides, where the sender keeps such tests.
    """

    setup: AnalysisSetup
    conditions: Conditions
    layout: str
    channels: tuple[CaseChannel, ...]
    read_as: str
    rate_hz: float
    start_s: float
    samples: int
    full_scale: bool
    part: Part
    sha256: str
    code_version: str
    result: dict[str, Any]
    tests: tuple[CaseTest, ...] = ()

    def manifest(self) -> dict[str, Any]:
        """Return what stands in `manifest.json`."""
        order = self.setup.firing_order
        told = {
            "format": FORMAT,
            "version": VERSION,
            "code_version": self.code_version,
            "engine": {
                "layout": self.layout,
                "cylinders": len(order),
                "firing_order": str(order),
                "tdc_angles": list(order.tdc_angles_deg),
                "fuel": self.setup.fuel,
            },
            "setup": self.setup.to_json(),
            "conditions": asdict(self.conditions),
            "reading": {
                "format": self.read_as,
                "rate_hz": self.rate_hz,
                "start_s": self.start_s,
                "samples": self.samples,
                "full_scale": self.full_scale,
                "part": self.part,
                "channels": [{"name": c.role, "unit": c.unit} for c in self.channels],
                "sha256": self.sha256,
            },
        }
        if self.tests:
            told["tests"] = [test.to_json() for test in self.tests]
        return told

    def to_json(self) -> dict[str, Any]:
        """Return manifest and result as one; `from_json` reads them back."""
        return {"manifest": self.manifest(), "result": self.result}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Case":
        """Read what `to_json` wrote, or a stranger: nothing is taken on trust.

        Raises
        ------
        CaseError
            If anything is not as a case has it; one sentence.
        """
        try:
            manifest = data["manifest"]
            if manifest.get("format") != FORMAT:
                raise CaseError(NO_CASE)
            if whole(manifest["version"], 1, 1 << 16) > VERSION:
                raise CaseError(_LATER)
            return _case(manifest, data["result"])
        except _TROUBLE:
            raise CaseError(DAMAGED) from None


def parsed(text: bytes) -> dict[str, Any]:
    """Read a JSON object; figures that are none are refused.

    Raises
    ------
    CaseError
        If it is no JSON object in UTF-8.
    """
    try:
        found = json.loads(text.decode("utf-8"), parse_constant=_refuse_constant)
    except _TROUBLE:
        raise CaseError(DAMAGED) from None
    if not isinstance(found, dict):
        raise CaseError(DAMAGED)
    return found


def parts_of(setup: AnalysisSetup) -> tuple[str, ...]:
    """Return the parts that a set-up has channels for, in the samples' order."""
    parts = [setup.kind.channel_part]
    if setup.sync:
        parts.append(SYNC)
    if setup.voltage_channel:
        parts.append(BATTERY)
    return tuple(parts)


def with_parts(setup: AnalysisSetup) -> AnalysisSetup:
    """Return the set-up with its channels called by their parts in the test."""
    return replace(
        setup,
        current_channel=setup.kind.channel_part,
        sync=replace(setup.sync, channel=SYNC) if setup.sync else None,
        voltage_channel=BATTERY if setup.voltage_channel else None,
        # its channel is none of those judged, and not handed on
        measured_event=None,
    )


def known_unit(unit: str | None) -> str | None:
    """Return the unit if it is one that analysis knows; a file may write anything there."""
    return next((u for u in _UNITS if u.casefold() == (unit or "").casefold()), None)


def start_kept_s(start_s: float) -> float:
    """Return the start to hand on: 0 where the sender's may be a date or a time of day."""
    return start_s if abs(start_s) < _CLOCK_S else 0.0


def moved(setup: AnalysisSetup, by_s: float) -> AnalysisSetup:
    """Return the set-up with all times that a person chose by hand moved on."""
    data = setup.to_json()
    hand = data.get("hand")
    if not hand or not by_s:
        return setup
    if hand["span_s"]:
        hand["span_s"] = [t + by_s for t in hand["span_s"]]
    hand["left_out_s"] = [[t + by_s for t in span] for span in hand["left_out_s"]]
    if hand["marks"]:
        hand["marks"]["times_s"] = [t + by_s for t in hand["marks"]["times_s"]]
    return AnalysisSetup.from_json(data)


def told_result(report: Report, roles: Mapping[str, str], by_s: float) -> dict[str, Any]:
    """Return a report in the published form, without sentences and names.

    Parameters
    ----------
    roles
        The channels' parts by their names, in lower case.
    by_s
        By how much times are moved on.
    """
    published = report.to_json()
    starter = published["starter"]

    def at(time_s: float | None) -> float | None:
        return None if time_s is None else round(time_s + by_s, 6)

    return {
        "schema": SCHEMA,
        "file": "case",
        **{key: published[key] for key in (*FIGURES_PUBLISHED, *BANKS_PUBLISHED)},
        "findings": [
            {
                "code": f["code"],
                "severity": f["severity"],
                "channel": roles.get(str(f["channel"]).casefold()),
                "from_s": at(f["from_s"]),
                "to_s": at(f["to_s"]),
                "message": "",
                "remedy": "",
            }
            for f in published["findings"]
        ],
        "error": None,
        "method": published["method"],
        "inverted": published["inverted"],
        "judged_from_s": at(published["judged_from_s"]),
        "judged_to_s": at(published["judged_to_s"]),
        "detail": published["detail"],
        "starter": starter and {n: at(starter[n]) if n in _TIMES else starter[n] for n in FIGURES},
    }


def _case(manifest: Mapping[str, Any], result: Mapping[str, Any]) -> Case:
    setup = checked_setup(manifest["setup"])
    engine, reading = manifest["engine"], manifest["reading"]
    layout = one_of(engine["layout"], ("", *LAYOUTS))
    channels = tuple(
        CaseChannel(one_of(c["name"], _ROLES), one_of(c["unit"], (None, *_UNITS)))
        for c in reading["channels"]
    )
    if tuple(c.role for c in channels) != parts_of(setup) or setup != with_parts(setup):
        raise ValueError("channels and set-up do not fit")
    same = (
        engine["cylinders"] == len(setup.firing_order)
        and engine["firing_order"] == str(setup.firing_order)
        and engine["fuel"] == setup.fuel
    )
    if not same:
        raise ValueError("engine and set-up do not fit")
    return Case(
        setup=setup,
        conditions=_conditions(manifest["conditions"]),
        layout=layout,
        channels=channels,
        read_as=like(_FORMAT, reading["format"]),
        rate_hz=figure(reading["rate_hz"], 1e-6, 1e9),
        start_s=figure(reading["start_s"], -1e12, 1e12),
        samples=whole(reading["samples"], 2, 1 << 40),
        full_scale=truth(reading["full_scale"]),
        part=cast("Part", one_of(reading["part"], get_args(Part))),
        sha256=like(_SHA256, reading["sha256"]),
        code_version=like(_VERSION, manifest["code_version"]),
        result=checked_result(result, len(setup.firing_order)),
        tests=checked_tests(manifest.get("tests", [])),
    )


def _conditions(data: Mapping[str, Any]) -> Conditions:
    for name in ("fuel_off", "charger_off"):
        if data[name] is not None:
            truth(data[name])
    battery_v = data["battery_v"]
    return Conditions(
        fuel_off=data["fuel_off"],
        charger_off=data["charger_off"],
        throttle=one_of(data["throttle"], _CHOICES["throttle"]),
        temperature=one_of(data["temperature"], _CHOICES["temperature"]),
        battery_v=None if battery_v is None else figure(battery_v, 0.0, 60.0),
    )


def _refuse_constant(name: str) -> float:
    raise ValueError(name)
