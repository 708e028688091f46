"""What a new set-up offers to begin with."""

from typing import Any

from engines.models import Engine
from traces.core.setup import AnalysisSetup
from traces.forms.pressure_fields import OTHER as PRESSURE_OTHER
from traces.forms.pressure_fields import PRESSURE_SCALES
from traces.forms.setup import yes_no_word
from traces.forms.setup_fields import OTHER, SCALES
from traces.models import CaptureSetup, Reading


def setup_initial(
    reading: Reading, last: CaptureSetup | None, engine: Engine | None, fuel: str = ""
) -> dict[str, Any]:
    """Return what to offer: the set-up before, as far as it fits this file, engine and fuel.

    A capture set up again gets its own set-up whole. From another capture only the clamp and
    the channels are offered: those stay with the tools, all else belongs to the vehicle.
    """
    initial: dict[str, Any] = {"engine": engine.pk} if engine else {}
    if last is None:
        return initial
    initial |= _from_tools(last.analysis, [str(c["name"]) for c in reading.channels])
    if last.capture_id == reading.capture_id:
        initial |= _from_own(last, last.engine or engine)
    if fuel:
        # the vehicle's own fuel is surer than what was chosen before it was known
        initial["fuel"] = fuel
    return initial


def _from_tools(analysis: AnalysisSetup, names: list[str]) -> dict[str, Any]:
    initial: dict[str, Any] = {
        "signal": analysis.signal,
        "full_scale_v": analysis.full_scale_v,
        "sync_channel": "",
    }
    if analysis.kind.needs_scale:
        scale = f"{analysis.mv_per_a:g}"
        initial["scale"] = scale if scale in SCALES else OTHER
        initial["invert"] = yes_no_word(analysis.invert) or "auto"
        if scale not in SCALES:
            initial["scale_typed"] = analysis.mv_per_a
    if analysis.pressure is not None and analysis.pressure.kpa_per_v is not None:
        initial |= _transducer(analysis.pressure.kpa_per_v)
    if analysis.current_channel in names:
        initial["current_channel"] = analysis.current_channel
    if analysis.sync and analysis.sync.channel in names:
        initial["sync_channel"] = analysis.sync.channel
        if analysis.sync.bit is not None:
            initial["sync_bit"] = analysis.sync.bit
    if analysis.voltage_channel in names:
        initial["voltage_channel"] = analysis.voltage_channel
    return initial


def _transducer(kpa_per_v: float) -> dict[str, Any]:
    scale = f"{kpa_per_v:g}"
    if scale in PRESSURE_SCALES:
        return {"pressure_scale": scale}
    return {"pressure_scale": PRESSURE_OTHER, "pressure_scale_typed": kpa_per_v}


def _from_own(last: CaptureSetup, engine: Engine | None) -> dict[str, Any]:
    analysis = last.analysis
    initial: dict[str, Any] = {
        "rate_hz": analysis.rate_hz,
        "fuel_off": yes_no_word(last.fuel_off),
        "charger_off": yes_no_word(last.charger_off),
        "throttle": last.throttle,
        "temperature": last.temperature,
        "battery_v": last.battery_v,
        "flywheel": analysis.flywheel,
        # a pattern says the numbers too
        "wheel_pattern": analysis.wheel.pattern or "",
        "wheel_teeth": None if analysis.wheel.pattern else analysis.wheel.teeth,
        "wheel_missing": None if analysis.wheel.pattern else analysis.wheel.missing,
    }
    if engine:
        initial["engine"] = engine.pk
    if engine is None or analysis.fuel != engine.fuel:
        initial["fuel"] = analysis.fuel
    if engine is None or str(analysis.firing_order) != engine.firing_order:
        initial["firing_order"] = str(analysis.firing_order)
    if analysis.sync:
        initial |= {
            "sync_event": analysis.sync.event,
            "sync_cylinder": analysis.sync.cylinder,
            "sync_every": str(analysis.sync.every_deg),
        }
        if analysis.sync.angle_from == "typed":
            initial["sync_angle"] = analysis.sync.angle_deg
    if analysis.opened_plug is not None:
        initial["opened_plug"] = analysis.opened_plug
    if analysis.pressure is not None:
        initial |= {
            "pressure_cylinder": analysis.pressure.cylinder,
            "compression_ratio": analysis.pressure.compression_ratio,
            "zero_v": analysis.pressure.zero_v,
            "air_kpa": analysis.pressure.air_kpa,
        }
    if analysis.measured_event:
        initial |= {
            "measured_channel": analysis.measured_event.channel,
            "measured_event": analysis.measured_event.event,
            "measured_cylinder": analysis.measured_event.cylinder,
        }
    return initial
