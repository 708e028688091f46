"""One cylinder judged by its pressure, alone, beside a known-good one, or among those in turn."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import say
from traces.core.compression import Geometry
from traces.core.findings import Finding, finding
from traces.core.preparation import Prepared, channel_named
from traces.core.pressure import Measured, PressureError, PressureInput, measure
from traces.core.pressure_compared import Share, beside_known_good, in_turn, shares_in_turn
from traces.core.report import (
    PRESSURE,
    BesideKnownGood,
    Call,
    Estimate,
    Interval,
    PressureFigures,
    Report,
    ReportParts,
)
from traces.core.setup import PRESSURE_UNITS, AnalysisSetup, PressureSetup, SetupError
from traces.core.waveform import Channel, Waveform

_USUAL_RATIO = {"petrol": 10.5, "diesel": 16.5}
_USUAL_CYLINDERS = 4
_AIR_KPA = 101.3
_BACK_KPA = 10.0
"""Exhaust systems mostly hold back less than 1.25 psi (8.6 kPa) at idle (common practice)."""
_LOSS_PERCENT = 30.0
"""Sound simulated engines lose up to 25 % while cranking and 19 % at idle."""
_CAM_DEG = 4.0
_SPEEDS_DIFFER = 0.1
_SURELY_LOW = 0.87
_STOPS = {
    "none": "pressure-none",
    "upside-down": "pressure-inverted",
    "clipped": "pressure-clipped",
    "noise": "pressure-noise",
    "few": "pressure-few",
    "unsteady": "pressure-unsteady",
    "shape": "not-a-cylinder",
    "fires": "cylinder-fires",
    "scale": "pressure-scale",
    "low-rate": "pressure-low-rate",
}


@dataclass(frozen=True, slots=True, eq=False)
class Recorded:
    """A recording of one cylinder and what it is called."""

    file: str
    waveform: Waveform
    cylinder: int | None = None


def prepared(_waveform: Waveform, _setup: AnalysisSetup) -> Prepared | None:
    """Return None: nothing of a single cylinder is prepared as a crank is."""
    return None


def judge(waveform: Waveform, setup: AnalysisSetup) -> Report:
    """Measure one cylinder's pressure.

    Parameters
    ----------
    waveform
        The recording.
    setup
        Channel, and the transducer in `pressure`.

    Raises
    ------
    SetupError
        If the scale is not known, or there is no such channel.
    """
    return judge_among(Recorded("", waveform), setup)


def judge_among(
    recorded: Recorded,
    setup: AnalysisSetup,
    good: Recorded | None = None,
    others: Sequence[Recorded] = (),
) -> Report:
    """Measure one cylinder, and lay others beside it.

    Parameters
    ----------
    recorded
        The cylinder's recording.
    setup
        The same for all of them, but for the cylinder.
    good
        A known-good capture of that engine.
    others
        Cylinders of the same engine that were measured in turn, each with its number.
    """
    try:
        now = _measured(recorded, setup)
    except PressureError as error:
        return Report.refused(_refusal(error), PRESSURE)
    there = None if good is None else _beside(good, setup)
    rows = [_beside(other, setup) for other in others]
    beside = None
    if good is not None and there is not None:
        beside = beside_known_good(now.figures, there.figures, good.file)
    figures = replace(now.figures, beside=beside)
    compared = [now.figures, *([there.figures] if there else []), *(row.figures for row in rows)]
    findings = [*_of_beside(beside), *_of_speeds(compared), *_of_figures(figures)]
    report = _report(recorded.waveform, now, figures, findings)
    return _in_turn(report, recorded, others, rows, setup) if rows else report


def _refusal(error: PressureError) -> Finding:
    figures: dict[str, Any] = error.figures
    return finding(_STOPS[error.trouble], **figures)


def _beside(other: Recorded, setup: AnalysisSetup) -> Measured:
    try:
        return _measured(other, setup)
    except PressureError as error:
        why = _refusal(error)
        raise SetupError(f"{other.file}: {why.message} {why.remedy}") from None


def _measured(recorded: Recorded, setup: AnalysisSetup) -> Measured:
    channel = channel_named(recorded.waveform, setup.current_channel)
    told = setup.pressure or PressureSetup()
    known = PressureInput(
        kpa_per_unit=_kpa_per_unit(channel, setup, told),
        geometry=Geometry(
            told.compression_ratio or _USUAL_RATIO[setup.fuel],
            cylinders=told.cylinders or _USUAL_CYLINDERS,
            is_known=told.compression_ratio is not None,
        ),
        air_kpa=told.air_kpa or _AIR_KPA,
        is_air_known=told.air_kpa is not None,
        zero=told.zero_v,
        cylinder=recorded.cylinder if recorded.cylinder is not None else told.cylinder,
    )
    values = np.asarray(channel.values, dtype=np.float64)
    return measure(values, recorded.waveform.rate_hz, known)


def _kpa_per_unit(channel: Channel, setup: AnalysisSetup, told: PressureSetup) -> float:
    unit = (channel.unit or "").casefold()
    if unit in PRESSURE_UNITS:
        if told.kpa_per_v is not None:
            raise SetupError(
                _("The file gives this channel in {unit} already; leave the scale out.").format(
                    unit=channel.unit
                )
            )
        return PRESSURE_UNITS[unit]
    if told.kpa_per_v is None:
        raise SetupError(
            _("Say the transducer's scale in kilopascals per volt; its data sheet has it.")
        )
    if unit == "mv":
        return told.kpa_per_v / 1000.0
    if unit != "v" and setup.full_scale_v is not None:
        return told.kpa_per_v * setup.full_scale_v
    return told.kpa_per_v


def _report(
    waveform: Waveform, now: Measured, figures: PressureFigures, findings: Sequence[Finding]
) -> Report:
    return Report(
        verdict="measured",
        cranking_rpm=figures.rpm if figures.state == "cranking" else None,
        cycles=figures.cycles,
        findings=tuple(sorted(findings, key=lambda found: found.severity != "warn")),
        judged_from_s=waveform.t0_s + now.judged_s[0],
        judged_to_s=waveform.t0_s + now.judged_s[1],
        method=PRESSURE,
        sync_note=say("Crank angle is counted from one compression of this cylinder to the next."),
        parts=ReportParts(pressure=figures),
    )


def _in_turn(
    report: Report,
    recorded: Recorded,
    others: Sequence[Recorded],
    rows: Sequence[Measured],
    setup: AnalysisSetup,
) -> Report:
    own = report.parts.pressure
    if own is None:
        return report
    figures = [own, *(row.figures for row in rows)]
    files = [recorded.file, *(other.file for other in others)]
    shares = sorted(shares_in_turn(figures), key=lambda share: share.cylinder)
    estimates = tuple(
        Estimate(i + 1, share.cylinder, share.share, share.low, share.high, _call(share, setup))
        for i, share in enumerate(shares)
    )
    low = tuple(e.cylinder or 0 for e in estimates if e.call == "suspect")
    table = tuple(in_turn(figures, files))
    return replace(
        report,
        verdict="uneven" if low else "even",
        estimates=estimates,
        candidates=(low,),
        cylinders_known=True,
        parts=ReportParts(pressure=replace(own, in_turn=table)),
    )


def _call(share: Share, setup: AnalysisSetup) -> Call:
    if share.share < setup.suspect_below:
        return "suspect" if share.high < _SURELY_LOW else "watch"
    return "watch" if share.share < setup.watch_below else "sound"


def _of_figures(figures: PressureFigures) -> list[Finding]:
    found = []
    if figures.zero_from == "intake":
        found.append(finding("zero-by-intake", under="2.5"))
    if figures.zero_from == "compression":
        found.append(finding("zero-by-compression"))
    if figures.towers == "unalike":
        found.append(
            finding(
                "towers-unalike",
                low=f"{min(figures.peaks_kpa):.0f}",
                high=f"{max(figures.peaks_kpa):.0f}",
                spread=f"{figures.peak_spread_percent:.1f}",
                missed=figures.missed,
            )
        )
    back = figures.back_pressure_kpa
    if back is not None and back.low > _BACK_KPA:
        found.append(finding("back-pressure", **_words(back)))
    loss = figures.leg_loss_percent
    if loss is not None and loss.low > 0 and loss.value > _LOSS_PERCENT:
        found.append(finding("leg-loss", value=f"{loss.value:.0f}"))
    if not figures.is_ratio_known:
        found.append(finding("ratio-assumed", ratio=f"{figures.compression_ratio:g}"))
    if None in (figures.exhaust_opens_deg, figures.exchange_deg, figures.intake_closes_deg):
        found.append(finding("valves-hidden"))
    found += [finding("angles-effective"), finding("peak-not-gauge")]
    return found


def _of_beside(beside: BesideKnownGood | None) -> list[Finding]:
    found: list[Finding] = []
    if beside is None:
        return found
    valves = ((beside.intake_cam_deg, say("intake")), (beside.exhaust_cam_deg, say("exhaust")))
    for moved, valve in valves:
        if moved is None or abs(moved.value) < _CAM_DEG or moved.low <= 0 <= moved.high:
            continue
        way = say("late") if moved.value > 0 else say("early")
        ends = sorted((abs(moved.low), abs(moved.high)))
        found.append(
            finding(
                "cam-moved",
                valve=valve,
                way=way,
                degrees=f"{abs(moved.value):.0f}",
                low=f"{ends[0]:.0f}",
                high=f"{ends[1]:.0f}",
            )
        )
    return found


def _of_speeds(figures: Sequence[PressureFigures]) -> list[Finding]:
    speeds = [one.rpm for one in figures]
    if max(speeds) <= (1 + _SPEEDS_DIFFER) * min(speeds):
        return []
    words = ", ".join(f"{rpm:.0f}" for rpm in speeds)
    return [finding("other-conditions", rpm=words)]


def _words(figure: Interval) -> dict[str, Any]:
    return {
        "value": f"{figure.value:.0f}",
        "low": f"{figure.low:.0f}",
        "high": f"{figure.high:.0f}",
    }
