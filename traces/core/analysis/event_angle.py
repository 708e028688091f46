"""The angle of an event, measured beside labels that are settled.

A petrol injector or a cam edge names a cylinder only where its angle to top dead centre is known.
Where a capture names its cylinders by something else, an ignition event, a mark by hand or an
angle already known, every other event recorded beside it can be measured against the fitted top
dead centre of the cylinder it belongs to, and be the sync of the next capture of that engine.
"""

from dataclasses import dataclass, replace

import numpy as np

from engines.core.firing import CYCLE_DEG
from shopdiag.people.core.words import Text, say
from traces.core.analysis.any_signal import judge
from traces.core.analysis.signal_judge import judge_of
from traces.core.crank import Cranking
from traces.core.preparation import channel_named
from traces.core.report import CycleFit, Report
from traces.core.setup import AnalysisSetup, SyncEvent, SyncSetup
from traces.core.signals import with_sync_bit
from traces.core.sync import Sync, find_pulses, read_sync
from traces.core.twin import LAG_DEG, is_settled
from traces.core.waveform import Floats, Waveform

_LEAST_EVENTS = 3
_TDC_SPREAD_DEG = 5.0
"""Of the fitted top dead centre about the true one, from one capture to the next (simulated)."""

_WIDEST_DEG = 20.0
"""Spread of single events above which they keep to no angle."""

_WHY_NOT = {
    "missing": say(
        "there are fewer than two events on that channel in the cranking that is judged."
    ),
    "scattered": say("the events do not keep to one place of the engine's cycle."),
    "crowded": say("the events come at several places of the engine's cycle, all as strong."),
    "every-360": say("the events come twice an engine cycle, so that they have no one angle."),
}


class AngleNotMeasuredError(ValueError):
    """The angle cannot be measured; `why` is the rest of a sentence."""

    def __init__(self, why: Text) -> None:
        super().__init__(why)
        self.why = why


@dataclass(frozen=True, slots=True)
class MeasuredAngle:
    """Where an event stands.

    Parameters
    ----------
    angle_deg
        Crank degrees from the firing top dead centre of the cylinder, negative before it, from
        -540 to 180; as `SyncSetup.angle_deg` wants it.
    spread_deg
        Standard deviation of that figure; as `SyncSetup.angle_spread_deg` wants it.
    count
        How many events were measured.
    other_angles_deg
        Of a cam with several edges a cycle: where its other edges stand.
    """

    angle_deg: float
    spread_deg: float
    count: int
    other_angles_deg: tuple[float, ...] = ()


def measure_event_angle(
    waveform: Waveform,
    setup: AnalysisSetup,
    *,
    channel: str,
    event: SyncEvent,
    cylinder: int,
    bit: int | None = None,
    report: Report | None = None,
) -> MeasuredAngle:
    """Measure where another event of a capture stands from a firing top dead centre.

    Parameters
    ----------
    waveform
        The recording, with `channel` beside the channels that `setup` names.
    setup
        As the capture was analysed; its sync, or a mark by hand, must settle the labels.
    channel
        Name, or number from 1, of the channel with the event to measure.
    event, cylinder
        What it is, and from whose firing top dead centre it is measured; of a cam edge usually
        cylinder 1.
    bit
        Where the channel is a bit mask: which bit.
    report
        The capture as judged under `setup`; judged here where None.

    Returns
    -------
    EventAngle
        The events' mean place in crank degrees, by the speed that the fit found within a cycle,
        less the model's mean lag.

    Raises
    ------
    EventAngleError
        Where labels are not settled or the events keep to no angle.
    SetupError
        If there is no such channel, bit or cylinder.
    """
    probe = SyncSetup(channel, cylinder, event, bit=bit)
    # the same checks as for a sync; the channel may be a bit of the very mask that is the sync
    masked = with_sync_bit(waveform, replace(setup, sync=probe))
    pick_up = channel_named(masked, channel)
    if setup.sync is not None:
        own = channel_named(waveform, setup.sync.channel)
        is_sync = own is channel_named(waveform, channel) and setup.sync.bit == bit
        # one of unknown angle names no cylinder, so that it may be measured beside an opened plug
        if is_sync and (setup.opened_plug is None or setup.sync.angle_deg is not None):
            raise AngleNotMeasuredError(say("that channel is the sync itself; choose another one."))
    report = judge(waveform, setup) if report is None else report
    place_deg, fit = _settled(report)
    prepared = judge_of(setup.kind).prepared(with_sync_bit(waveform, setup), setup)
    if prepared is None:
        raise AngleNotMeasuredError(say("the capture could not be judged."))
    cranking = prepared.cranking
    pulses = find_pulses(masked, pick_up, cranking.steady_from_s, cranking.steady_to_s)
    found = read_sync(
        pulses,
        cranking.conditioned.times_s,
        cranking.cycle_count,
        several=event == "cam",
    )
    if found.state != "every-720" or found.events_s.size < _LEAST_EVENTS:
        raise AngleNotMeasuredError(_WHY_NOT.get(found.state, _WHY_NOT["missing"]))
    tdc_deg = place_deg - LAG_DEG + prepared.order.angle_of(cylinder)
    return _measured(found, cranking, fit, tdc_deg)


def _settled(report: Report) -> tuple[float, CycleFit]:
    """Return where the first position's top dead centre stands in the cycle, and that cycle."""
    if report.verdict == "not judged":
        raise AngleNotMeasuredError(say("the capture could not be judged."))
    label = report.parts.label
    if not report.cylinders_known or label is None or not is_settled(label.confidence):
        raise AngleNotMeasuredError(
            say(
                "the capture does not say for certain which cylinder is which; record an "
                "ignition event of a known cylinder beside the event."
            )
        )
    fit = report.parts.cycle_fit
    if fit is None:
        raise AngleNotMeasuredError(
            say(
                "the compressions were read plainly, without an engine fitted to them, "
                "so that no top dead centre is known well enough to measure from."
            )
        )
    return label.tdc_after_event_deg, fit


def _measured(found: Sync, cranking: Cranking, fit: CycleFit, tdc_deg: float) -> MeasuredAngle:
    counted = np.interp(found.events_s, cranking.conditioned.times_s, cranking.cycle_count)
    angles_deg = _angles_deg(counted % 1.0, fit) - tdc_deg
    turned = np.exp(2j * np.pi * angles_deg / CYCLE_DEG)
    mean_deg = CYCLE_DEG * float(np.angle(turned.mean())) / (2 * np.pi)
    off_deg = np.angle(turned / turned.mean()) * CYCLE_DEG / (2 * np.pi)
    single_deg = float(np.std(off_deg, ddof=1))
    if single_deg > _WIDEST_DEG:
        raise AngleNotMeasuredError(_WHY_NOT["scattered"])
    others = np.interp(found.events_s[0], cranking.conditioned.times_s, cranking.cycle_count)
    others_deg = [
        _angles_deg(np.array([(others + share) % 1.0]), fit)[0] - tdc_deg
        for share in found.others_cycles
    ]
    return MeasuredAngle(
        angle_deg=_folded(mean_deg),
        spread_deg=round(float(np.hypot(single_deg, _TDC_SPREAD_DEG)), 1),
        count=int(found.events_s.size),
        other_angles_deg=tuple(sorted(_folded(float(a)) for a in others_deg)),
    )


def _angles_deg(shares: Floats, fit: CycleFit) -> Floats:
    """Return crank angles after the beginning of the cycle for shares of its time."""
    angle_deg = np.array(fit.angle_deg)
    if fit.share:
        # teeth: cycles are counted by angle already
        return CYCLE_DEG * shares
    at = np.arange(angle_deg.size) / angle_deg.size
    return np.asarray(
        np.interp(shares, np.append(at, 1.0), np.append(angle_deg, CYCLE_DEG)), dtype=np.float64
    )


def _folded(angle_deg: float) -> float:
    return round((angle_deg + 540.0) % CYCLE_DEG - 540.0, 1)
