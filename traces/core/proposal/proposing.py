"""What is proposed for a set-up: parts of the channels, the scale, how often the sync comes."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from engines.core.firing import FiringOrder
from shopdiag.people.core.words import gettext as _
from traces.core.preparation import usual_current_a
from traces.core.proposal.channel_roles import (
    BatterySeen,
    ChannelRoles,
    ClampSeen,
    PressureSeen,
    SyncSeen,
)
from traces.core.proposal.transducer_scales import pressure_words
from traces.core.setup import Fuel, SyncEvent, SyncEvery
from traces.core.signal_kinds import SignalKind

SCALES_MV_PER_A = (1.0, 2.0, 10.0, 20.0, 50.0, 100.0)
"""Positions that a set-up offers beside a typed one (common practice)."""

_POSSIBLE = 2.0
"""Cold oil, a clamp around one of two cables and 24 V starters stay within this factor."""

_SLOWEST_RPM, _FASTEST_RPM = 70.0, 450.0
_USUAL_RPM, _USUAL_SPREAD = 210.0, 0.45  # of ln(rpm); from memory
_SPEED_WEIGHT = 0.75
_ODD_SHARE, _SURE_BY = 0.2, 1.0


@dataclass(frozen=True, slots=True)
class ScaleChoice:
    """A clamp's scale with the mean current it makes of this recording.

    Parameters
    ----------
    amps
        None where the file does not say how many volts its values are.
    is_usual, is_possible
        Whether such engines draw that, and whether they could; None where nothing is known.
    """

    mv_per_a: float
    amps: float | None = None
    is_usual: bool | None = None
    is_possible: bool | None = None


@dataclass(frozen=True, slots=True)
class Proposal:
    """A set-up as the file itself suggests it; every part is a guess until a person saw it.

    Parameters
    ----------
    clamp, battery, sync
        What was seen; None where the file shows no such channel.
    scales
        What may be chosen, the likeliest first.
    mv_per_a, why_scale
        The scale proposed and what that rests on; None where the file leaves it open.
    every_deg, every_sure
        How often the sync comes in the engine's cycle, and whether the curve settles that.
    event
        What the sync picks up, as far as its shape tells.
    teeth, running
        Channels of a crank sensor: of a cranked engine, and of one that idles.
    pressure
        Of a transducer in place of one plug.
    """

    clamp: ClampSeen | None
    battery: BatterySeen | None
    sync: SyncSeen | None
    teeth: int | None
    scales: tuple[ScaleChoice, ...]
    mv_per_a: float | None = None
    why_scale: str = ""
    every_deg: SyncEvery | None = None
    every_sure: bool = False
    event: SyncEvent | None = None
    running: int | None = None
    pressure: PressureSeen | None = None

    def channel_of(self, kind: SignalKind) -> int | None:
        """Return the channel that shows a signal; None where none does."""
        found = {"current": self.clamp, "voltage": self.battery, "pressure": self.pressure}
        seen = found.get(kind.carries)
        if kind.carries == "teeth":
            return self.teeth if kind.shows_compressions else self.running
        return seen.channel if seen else None


def propose(
    roles: ChannelRoles,
    *,
    units: tuple[str | None, ...],
    order: FiringOrder | None,
    fuel: Fuel,
    full_scale_v: float | None = None,
    is_full_scale: bool = False,
    last_mv_per_a: float | None = None,
) -> Proposal:
    """Return what to propose for a file whose channels showed `roles`.

    Parameters
    ----------
    units
        Of the file's channels.
    order
        The engine's; None where that is not known yet.
    full_scale_v, is_full_scale
        Whether values are parts of full scale, and how many volts that is, where known.
    last_mv_per_a
        The scale of this person's set-up before.
    """
    clamp, sync = roles.clamp, roles.sync
    level_v: float | None = None
    if clamp is not None:
        unit = (units[clamp.channel] or "").casefold()
        level_v = clamp.level
        if unit == "":
            level_v = clamp.level * full_scale_v if full_scale_v else level_v
            level_v = None if is_full_scale and not full_scale_v else level_v
        if unit in ("a", "ma"):
            level_v = None
    scales = scale_choices(level_v, order, fuel, last_mv_per_a)
    mv_per_a, why = _scale_proposed(scales, last_mv_per_a)
    every, sure = _every(sync, order) if sync else (None, False)
    return Proposal(
        clamp=clamp,
        battery=roles.battery,
        sync=sync,
        teeth=roles.teeth,
        running=roles.running,
        pressure=roles.pressure,
        scales=scales,
        mv_per_a=mv_per_a,
        why_scale=why,
        every_deg=every,
        every_sure=sure,
        event=_event(sync, fuel) if sync else None,
    )


def scale_choices(
    level_v: float | None, order: FiringOrder | None, fuel: Fuel, last_mv_per_a: float | None
) -> tuple[ScaleChoice, ...]:
    """Return the usual scales, the likeliest for this engine first."""
    if level_v is None:
        rest = [ScaleChoice(scale) for scale in SCALES_MV_PER_A]
        return tuple(sorted(rest, key=lambda c: c.mv_per_a != last_mv_per_a))
    amps = {scale: 1000.0 * level_v / scale for scale in SCALES_MV_PER_A}
    if order is None:
        rest = [ScaleChoice(scale, a) for scale, a in amps.items()]
        return tuple(sorted(rest, key=lambda c: c.mv_per_a != last_mv_per_a))
    least_a, most_a = usual_current_a(len(order), fuel)
    middle_a = math.sqrt(least_a * most_a)
    choices = [
        ScaleChoice(
            scale,
            a,
            is_usual=least_a <= a <= most_a,
            is_possible=least_a / _POSSIBLE <= a <= most_a * _POSSIBLE,
        )
        for scale, a in amps.items()
    ]
    # the last one stays first as long as such an engine may draw that
    return tuple(
        sorted(
            choices,
            key=lambda c: (
                not (c.mv_per_a == last_mv_per_a and c.is_usual),
                abs(math.log((c.amps or middle_a) / middle_a)),
            ),
        )
    )


def _scale_proposed(
    scales: tuple[ScaleChoice, ...], last_mv_per_a: float | None
) -> tuple[float | None, str]:
    last = next((c for c in scales if c.mv_per_a == last_mv_per_a), None)
    if last is not None and last.is_usual:
        return last.mv_per_a, _("as in the set-up before; {amps:.0f} A is usual here").format(
            amps=last.amps
        )
    possible = [c for c in scales if c.is_possible]
    if len(possible) == 1:
        return possible[0].mv_per_a, _(
            "no other of these makes a current that such an engine can draw"
        )
    return None, ""


def _every(sync: SyncSeen, order: FiringOrder | None) -> tuple[SyncEvery | None, bool]:
    """Return how often the sync comes: by teeth beside it, or else by the crank's compressions."""
    return (sync.every_deg, True) if sync.every_deg is not None else sync_every(sync, order)


def sync_every(sync: SyncSeen, order: FiringOrder | None) -> tuple[SyncEvery | None, bool]:
    """Return after how many crank degrees the sync comes again, and whether that is settled.

    By speed where only one of the two is a starter's; else by the compressions between two
    pulses. Firings far from even make other rhythms, so that speed alone speaks there.
    """
    rpm_720, rpm_360 = 120.0 / sync.apart_s, 60.0 / sync.apart_s
    if rpm_720 > _FASTEST_RPM:
        return 360, True
    if rpm_360 < _SLOWEST_RPM:
        return 720, True
    if order is None:
        return None, False
    count = len(order)
    doubt = _SPEED_WEIGHT * (_unusual(rpm_720) ** 2 - _unusual(rpm_360) ** 2)
    if len(sync.lines) < 2 * count or not order.is_even:
        return (360 if doubt > 0 else 720), abs(doubt) > _SURE_BY
    half = math.log((sync.lines[count - 1] + 1e-6) / (sync.lines[2 * count - 1] + 1e-6))
    odd = sum(sync.lines[::2]) / max(sum(sync.lines), 1e-12)
    for_360 = half + doubt
    if odd > _ODD_SHARE and for_360 > -_SURE_BY:
        return 360, for_360 > _SURE_BY
    return (360 if for_360 > 0 else 720), abs(for_360) > _SURE_BY


def _unusual(rpm: float) -> float:
    return math.log(rpm / _USUAL_RPM) / _USUAL_SPREAD


def _event(sync: SyncSeen, fuel: Fuel) -> SyncEvent:
    """Return what a pulse may come from: a diesel has no ignition, a window is a cam wheel's."""
    if sync.is_window:
        return "cam"
    return "injector" if fuel == "diesel" else "ignition"


def channel_words(proposal: Proposal) -> Mapping[str, str]:
    """Return by what a channel carries, and by "sync", what a proposal rests on, one line each."""
    words = {}
    if (clamp := proposal.clamp) is not None:
        shows = (
            _("inrush, then {hump_hz:.1f} humps a second").format(hump_hz=clamp.hump_hz)
            if clamp.inrush is not None
            else _("{hump_hz:.1f} humps a second").format(hump_hz=clamp.hump_hz)
        )
        words["current"] = shows
        words["sign"] = _("drawn downwards, so it is inverted") if clamp.inverted else ""
    if (battery := proposal.battery) is not None:
        words["voltage"] = (
            _("sags from {rest_v:.1f} to {level_v:.1f} V").format(
                rest_v=battery.rest_v, level_v=battery.level_v
            )
            if battery.rest_v is not None
            else _("stays near {level_v:.1f} V").format(level_v=battery.level_v)
        )
    if proposal.running is not None:
        words["teeth"] = _("teeth of a crank that idles")
    if (seen := proposal.pressure) is not None:
        words["pressure"] = pressure_words(seen)
    if (sync := proposal.sync) is not None:
        words["sync"] = _("{count} regular pulses, {apart_s:.2f} s apart").format(
            count=sync.count, apart_s=sync.apart_s
        )
    return words
