"""What a simulated capture is made of: engine, starter, battery, clamp, sync, flaws.

Every part is a frozen dataclass of numbers; the physics stands in the modules beside this one.
"""

import math
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from engines.core.firing import FiringOrder
from traces.core.setup import Fuel, SyncEvent, SyncEvery
from traces.core.slider_crank import SliderCrank

StarterKind: TypeAlias = Literal["permanent-magnet", "series"]


@dataclass(frozen=True, slots=True)
class Cylinder:
    """One cylinder's deviations from the engine's drawing.

    Parameters
    ----------
    leak_mm2
        Orifice past rings and valves that a sound cylinder has too.
    clearance_factor
        Clearance volume over the drawing's: spread of make; liquid or carbon makes it small.
    intake_area_factor
        Intake valve area over the drawing's: a worn lobe lets less in.
    mass_factor
        Pressure in its intake port over the manifold's.
    late_closing_deg
        Both intake events after the drawing's (retarded cam, jumped chain).
    late_exhaust_deg
        Both exhaust events after the drawing's.
    fault_leak_mm2
        Additional orifice of a fault.
    fault_share_of_cycles
        In how many of the cycles the fault's orifice is open: 1 always, less for a valve that
        sticks now and then.
    fault_recovery_s
        Time constant with which the fault's orifice closes from the start of the crank.
    intake_share, exhaust_share
        Shares of the fault's orifice at the intake and the exhaust valve's seat; the rest leads
        past the rings (family c; a and b have one orifice to the outside).
    intake_lift, exhaust_lift
        Largest lift of the valves over the drawing's: a worn lobe cuts its top off, 0 is a valve
        that does not open.
    faulty
        Whether this cylinder is one of the scenario's faults; others are its sound reference.
    """

    leak_mm2: float = 0.3
    clearance_factor: float = 1.0
    intake_area_factor: float = 1.0
    mass_factor: float = 1.0
    late_closing_deg: float = 0.0
    late_exhaust_deg: float = 0.0
    fault_leak_mm2: float = 0.0
    fault_share_of_cycles: float = 1.0
    fault_recovery_s: float = math.inf
    intake_share: float = 0.0
    exhaust_share: float = 0.0
    intake_lift: float = 1.0
    exhaust_lift: float = 1.0
    faulty: bool = False


@dataclass(frozen=True, slots=True)
class GasketLeak:
    """An opening in the head gasket between two neighbouring cylinders."""

    between: tuple[int, int]
    area_mm2: float


@dataclass(frozen=True, slots=True)
class TorqueRipple:
    """A load that repeats with the crank: cam, pump lobes, a bind in the ring gear.

    `order` counts its periods in 720 degrees: 2 is once a crank turn.
    """

    order: int
    amplitude_nm: float
    phase_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class PumpLobes:
    """A plunger pump driven by the camshaft: high-pressure fuel, and the like.

    Its torque is not a sine: each lobe pushes the plunger against the pressure over half of its
    period, and the plunger's spring gives `returned` of it back over the other half. A stroke
    takes 4 `peak_nm` / `lobes` joules: a half sine over 2 pi / `lobes` of crank angle.

    Parameters
    ----------
    lobes
        Strokes in 720 degrees.
    peak_nm
        Largest torque at the crank.
    phase_deg
        Crank angle at which a stroke begins.
    """

    lobes: int
    peak_nm: float
    returned: float = 0.15
    phase_deg: float = 0.0

    @classmethod
    def of_energy(cls, lobes: int, stroke_j: float, phase_deg: float = 0.0) -> "PumpLobes":
        """Return a pump by the work that each of its strokes takes, joules."""
        return cls(lobes=lobes, peak_nm=stroke_j * lobes / 4, phase_deg=phase_deg)


@dataclass(frozen=True, slots=True)
class TwoMass:
    """A flywheel in two parts with a spring between them; the ring gear is on the crank's part.

    Parameters
    ----------
    frequency_hz
        Natural frequency of the two parts against each other, both free:
        (2 pi f)^2 = k (1 / J1 + 1 / J2).
    share
        Inertia behind the spring, J2, over the engine's whole `inertia_kg_m2`.
    damping
        Damping ratio of that oscillation: c = 2 `damping` (2 pi f) J1 J2 / (J1 + J2).

    Raises
    ------
    ValueError
        If a figure is outside what such a flywheel can have.
    """

    frequency_hz: float
    share: float = 0.4
    damping: float = 0.08

    def __post_init__(self) -> None:
        if not self.frequency_hz > 0 or not 0 < self.share < 1 or self.damping < 0:
            raise ValueError("a positive frequency, a share between 0 and 1, no negative damping")

    def spring_nm_per_rad(self, inertia_kg_m2: float) -> float:
        """Return the spring's stiffness for an engine's whole inertia."""
        reduced = self.share * (1 - self.share) * inertia_kg_m2
        return float((2 * math.pi * self.frequency_hz) ** 2 * reduced)

    def damper_nms_per_rad(self, inertia_kg_m2: float) -> float:
        """Return the viscous damping beside the spring for an engine's whole inertia."""
        reduced = self.share * (1 - self.share) * inertia_kg_m2
        return float(2 * self.damping * 2 * math.pi * self.frequency_hz * reduced)


@dataclass(frozen=True, slots=True)
class Friction:
    """Rubbing torque of the engine at the crank, newton metres.

    Family a: `dry_nm + viscous_nms * speed`. Family b: a Stribeck curve that falls from
    `dry_nm + breakaway_nm` towards `dry_nm`, a film part growing with the root of speed, and
    ring friction as a share of the gas force. Family c: as b, with a film growing with the 0.7th
    power of speed, and rings that rub more in the middle of each stroke.
    """

    dry_nm: float = 12.0
    viscous_nms: float = 0.35
    breakaway_nm: float = 6.0
    ring_share: float = 0.01


@dataclass(frozen=True, slots=True)
class ValveTiming:
    """Valve events in crank degrees from the dead centre each is named after.

    The decompression valve stays open from bottom dead centre to
    `decompression_closes_btdc_deg` as long as the crank turns slower than
    `decompression_below_rpm`; centrifugal weights let go of it there.
    """

    intake_opens_btdc_deg: float = 8.0
    intake_closes_abdc_deg: float = 50.0
    exhaust_opens_bbdc_deg: float = 45.0
    exhaust_closes_atdc_deg: float = 8.0
    intake_area_mm2: float = 500.0
    exhaust_area_mm2: float = 420.0
    decompression_mm2: float = 0.0
    decompression_closes_btdc_deg: float = 70.0
    decompression_below_rpm: float = math.inf


@dataclass(frozen=True, slots=True)
class GasModel:
    """Air in and around the cylinders.

    `exponent` belongs to family a, where it stands for all heat loss; `wall_w_m2k` (heat
    transfer at manifold state), `throttle_mm2` and `plenum_l` belong to families b and c.
    """

    ambient_kpa: float = 100.0
    ambient_k: float = 300.0
    wall_k: float = 330.0
    manifold_kpa: float = 96.0
    exponent: float = 1.30
    wall_w_m2k: float = 70.0
    laminar_share: float = 0.5
    throttle_mm2: float = 150.0
    plenum_l: float = 3.0


@dataclass(frozen=True, slots=True)
class EngineModel:
    """An engine without fuel.

    Raises
    ------
    ValueError
        If `cylinders` are not as many as the firing order names, or a gasket leak names a
        cylinder that is not there.
    """

    firing_order: FiringOrder
    linkage: SliderCrank
    cylinders: tuple[Cylinder, ...]
    timing: ValveTiming = field(default_factory=ValveTiming)
    gas: GasModel = field(default_factory=GasModel)
    friction: Friction = field(default_factory=Friction)
    inertia_kg_m2: float = 0.18
    accessory_nm: float = 3.0
    ripples: tuple[TorqueRipple, ...] = ()
    pump: PumpLobes | None = None
    gasket: GasketLeak | None = None
    fuel: Fuel = "petrol"
    two_mass: TwoMass | None = None

    def __post_init__(self) -> None:
        if len(self.cylinders) != len(self.firing_order):
            raise ValueError("one Cylinder for each number of the firing order")
        if self.gasket and not set(self.gasket.between) <= set(self.firing_order.sequence):
            raise ValueError("the gasket leak names a cylinder that is not in the engine")


@dataclass(frozen=True, slots=True)
class StarterModel:
    """A starter motor, all seen from the crank (through pinion, ring and any reduction).

    Parameters
    ----------
    torque_nm_per_a
        Torque at the crank for each ampere (and back-EMF in V s/rad) of a permanent-magnet
        motor, or the value a series motor approaches in saturation.
    knee_a
        Current at which a series motor has half its field; for family b's permanent-magnet
        motor the current at which armature reaction would take half of it.
    resistance_ohm, inductance_h
        Armature, brushes, field and cable.
    brush_drop_v
        Fixed drop over the brushes (families b and c).
    gear_ratio
        Armature turns for one crank turn: commutator ripple runs at its multiple.
    inertia_kg_m2
        Of armature and gears, at the crank (gear ratio squared included).
    drag_nm, drag_nms
        Rubbing and windage of the motor at the crank.
    commutator_bars, ripple_share
        Ripple of the current as a share of it.
    clutch_nm_per_rad, clutch_nms
        Stiffness and damping of the engaged one-way clutch (families b and c; rigid in a).
    wound_share
        Share of the field that a series winding makes, the rest being magnets (family c, where
        `kind` means nothing): 0 a permanent-magnet motor, 1 a series motor.
    lash_deg
        Play of pinion and planetary gear, crank degrees (family c).
    slip_rad_s_per_nm
        How fast the one-way clutch creeps under torque (family c).
    heating_k_per_j
        Warming of the windings by each joule lost in them (family c): copper's resistance rises
        0.39 % a kelvin, a ferrite magnet's field falls 0.2 %.
    hold_a
        Solenoid current while the key is held; three times that in the pull-in.
    """

    kind: StarterKind = "permanent-magnet"
    torque_nm_per_a: float = 0.42
    knee_a: float = 2000.0
    resistance_ohm: float = 0.0075
    inductance_h: float = 50e-6
    brush_drop_v: float = 0.9
    gear_ratio: float = 55.0
    inertia_kg_m2: float = 0.25
    drag_nm: float = 12.0
    drag_nms: float = 0.15
    commutator_bars: int = 23
    ripple_share: float = 0.015
    clutch_nm_per_rad: float = 9000.0
    clutch_nms: float = 12.0
    wound_share: float = 0.0
    lash_deg: float = 0.4
    slip_rad_s_per_nm: float = 1e-3
    heating_k_per_j: float = 2.5e-3
    hold_a: float = 9.0


@dataclass(frozen=True, slots=True)
class BatteryModel:
    """A lead-acid battery.

    Parameters
    ----------
    emf_v, resistance_ohm
        Open-circuit voltage and inner resistance.
    sag_v_per_as
        Loss of EMF for each ampere second drawn (families a and c).
    polarisation_ohm, polarisation_s
        A slow second resistance with its time constant (family b; in c with a slower third one).
    collapse_at_s, collapse_ohm_per_s
        From this time into the crank the inner resistance rises: a failing battery.
    """

    emf_v: float = 12.5
    resistance_ohm: float = 0.0055
    sag_v_per_as: float = 2.0e-4
    polarisation_ohm: float = 0.0015
    polarisation_s: float = 0.4
    collapse_at_s: float = math.inf
    collapse_ohm_per_s: float = 0.02


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
class Sync:
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
