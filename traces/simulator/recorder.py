"""What records a simulated crank, and what is wrong with a recording: clamp, pick-up, flaws."""

import math
from dataclasses import dataclass

from engines.core.firing import FiringOrder
from traces.core.setup import SyncEvent, SyncEvery


@dataclass(frozen=True, slots=True)
class Clamp:
    """The current clamp and the input it is read with.

    Parameters
    ----------
    mv_per_a
        Scale.
    bandwidth_hz
        First-order corner.
    hysteresis_a
        Half the width of the loop that its core leaves between rising and falling current.
    offset_a, drift_a_per_s, drift_settle_a
        Zero error, its steady walk, and a part that settles within some seconds (warming).
    clip_a
        Where the clamp itself saturates; `inf` for never.
    spark_v
        Height of what each cylinder's ignition strikes into the clamp's cable, volts.
    soft_clip
        Whether it saturates smoothly, as a core does, or at once, as an amplifier does.
    inverted
        Arrow against the current.
    noise_v
        Standard deviation of the noise at the input, volts.
    bits, range_v
        Converter: codes from -range to +range; readings beyond it clip.
    """

    mv_per_a: float = 10.0
    bandwidth_hz: float = 10_000.0
    hysteresis_a: float = 0.0
    offset_a: float = 0.0
    drift_a_per_s: float = 0.0
    drift_settle_a: float = 0.0
    clip_a: float = math.inf
    soft_clip: bool = False
    inverted: bool = False
    spark_v: float = 0.0
    noise_v: float = 0.004
    bits: int = 12
    range_v: float = 10.0


@dataclass(frozen=True, slots=True)
class PickUp:
    """A pick-up that marks one cylinder's event.

    Parameters
    ----------
    cylinder, event, every_deg
        Which cylinder, what is seen, and whether it comes once or twice in 720 degrees.
    angle_deg, entered_angle_deg
        Crank angle of the event after that cylinder's firing top dead centre; and what the person
        at the tablet enters of it, None for nothing.
    amplitude_v, polarity
        Height of the event and its sign, +1 or -1.
    leakage
        Height of each other cylinder's event as a share (ignition and injector).
    missing_first
        How many of the cylinder's events at the start are not there.
    ring_hz, ring_decay_s
        Ringing after an ignition event and the ringing of an injector's switch-off.
    width_deg
        Crank degrees a cam window stays on.
    width_s
        How long an injector event lasts.
    more_edges_deg
        Where further windows of a cam wheel begin after the first, degrees.
    pairs_first
        How many events of the companion 360 degrees away come before the control unit has found
        the cam and fires each cylinder alone.
    entered_every_deg
        What the person enters for the distance of events where it is not the true one.
    noise_v, bits, range_v
        Noise and converter of this channel.
    """

    cylinder: int = 1
    event: SyncEvent = "ignition"
    every_deg: SyncEvery = 720
    angle_deg: float = -7.0
    entered_angle_deg: float | None = None
    amplitude_v: float = 2.5
    polarity: int = 1
    leakage: float = 0.15
    missing_first: int = 0
    ring_hz: float = 900.0
    ring_decay_s: float = 8e-4
    width_deg: float = 60.0
    width_s: float = 2.5e-3
    more_edges_deg: tuple[float, ...] = ()
    pairs_first: int = 0
    entered_every_deg: SyncEvery | None = None
    noise_v: float = 0.03
    bits: int = 12
    range_v: float = 10.0


@dataclass(frozen=True, slots=True)
class LoadStep:
    """Something else on the cable that is switched: a fan, a pump, a glow plug relay."""

    from_s: float
    to_s: float
    amps: float


@dataclass(frozen=True, slots=True)
class Flaws:
    """What is wrong with the capture, not with the engine.

    Parameters
    ----------
    names
        The kinds, for the truth.
    no_signal
        The clamp sees nothing at all.
    cable_share
        Share of the starter current that runs through the clamped cable.
    other_cable_a
        With a share of 0: the steady current of the cable clamped instead.
    load_steps
        Times are from the start of the recording.
    catches_after_s
        Time into the crank from which the cylinders fire.
    entered_mv_per_a, entered_order
        What the person enters in place of the truth.
    """

    names: tuple[str, ...] = ()
    no_signal: bool = False
    cable_share: float = 1.0
    other_cable_a: float = 0.0
    load_steps: tuple[LoadStep, ...] = ()
    catches_after_s: float = math.inf
    entered_mv_per_a: float | None = None
    entered_order: FiringOrder | None = None
