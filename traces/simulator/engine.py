"""What a simulated engine is made of: cylinders, friction, valve timing, gas.

Every part is a frozen dataclass of numbers; the physics stands in the modules beside this one.
What turns the engine is in `electrics`, what records it in `recorder`.
"""

import math
from dataclasses import dataclass, field

from engines.core.firing import FiringOrder
from traces.core.compression import SliderCrank
from traces.core.setup import Fuel


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
