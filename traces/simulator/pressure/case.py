"""What a simulated recording of one cylinder's pressure is made of."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class ValveTiming:
    """Where the valves leave and reach their seats, crank degrees from firing top dead centre.

    Exhaust opens in the expansion stroke (before 180), intake closes in the next compression
    (after 540).
    """

    exhaust_opens_deg: float = 128.0
    exhaust_closes_deg: float = 376.0
    intake_opens_deg: float = 346.0
    intake_closes_deg: float = 592.0

    def shifted(self, *, intake_deg: float = 0.0, exhaust_deg: float = 0.0) -> "ValveTiming":
        """Return it with either cam later by so many crank degrees, earlier where negative."""
        return ValveTiming(
            self.exhaust_opens_deg + exhaust_deg,
            self.exhaust_closes_deg + exhaust_deg,
            self.intake_opens_deg + intake_deg,
            self.intake_closes_deg + intake_deg,
        )


@dataclass(frozen=True, slots=True)
class Transducer:
    """The pressure transducer and the input it is read with.

    Parameters
    ----------
    kpa_per_v, zero_v
        Scale, and what it gives at the pressure of the air; unknown to the analysis.
    bandwidth_hz
        First-order corner.
    noise_v, spark_v
        Standard deviation of noise, and height of what other cylinders' ignition strikes in.
    bits, low_v, high_v
        Converter: codes from low to high; readings beyond it clip.
    drift_v_per_s
        Slow walk of its zero.
    """

    kpa_per_v: float = 500.0
    zero_v: float = 0.5
    bandwidth_hz: float = 4000.0
    noise_v: float = 0.003
    spark_v: float = 0.0
    bits: int = 12
    low_v: float = -1.0
    high_v: float = 5.0
    drift_v_per_s: float = 0.0


@dataclass(frozen=True, slots=True)
class PressureCase:
    """One cylinder with a transducer in place of its plug.

    Parameters
    ----------
    bore_m, stroke_m, rod_over_crank, compression_ratio
        Geometry; the ratio with the transducer's adaptor in place.
    timing, lift_m, intake_bore_m, exhaust_bore_m
        Valves: angles, greatest lift, diameters of the seats.
    rpm, cycles, swing, swings
        Mean speed, full cycles, its swing within the cycle as a share, and how often it swings in
        720 degrees (the number of cylinders).
    wander
        Standard deviation of speed from cycle to cycle, share.
    intake_kpa, exhaust_kpa, air_kpa
        Mean absolute pressures in the ports and outside.
    intake_ripple, exhaust_ripple
        Pulses of other cylinders in the ports, shares.
    wall_k, intake_k, exhaust_k
        Temperatures of the wall, of the charge and of the gas behind the exhaust valve.
    heat
        Law of heat loss: woschni, annand or none.
    ring_leak_m2, intake_leak_m2, exhaust_leak_m2
        Openings to crankcase, intake and exhaust that never close, effective areas.
    peak_spread
        Standard deviation of the filling from cycle to cycle, share.
    rest_s, stops
        Engine at rest before it turns, and whether it stands still at the end.
    hang_share
        Share of cycles in which the exhaust valve hangs and half of the charge is lost.
    """

    seed: int = 1
    bore_m: float = 0.082
    stroke_m: float = 0.085
    rod_over_crank: float = 3.4
    compression_ratio: float = 10.5
    timing: ValveTiming = ValveTiming()
    lift_m: float = 0.0088
    intake_bore_m: float = 0.040
    exhaust_bore_m: float = 0.034
    rpm: float = 220.0
    cycles: int = 9
    swing: float = 0.06
    swings: int = 4
    wander: float = 0.006
    intake_kpa: float = 98.0
    exhaust_kpa: float = 101.0
    air_kpa: float = 100.0
    intake_ripple: float = 0.01
    exhaust_ripple: float = 0.01
    wall_k: float = 330.0
    intake_k: float = 300.0
    exhaust_k: float = 330.0
    heat: str = "woschni"
    ring_leak_m2: float = 2e-7
    intake_leak_m2: float = 0.0
    exhaust_leak_m2: float = 0.0
    peak_spread: float = 0.006
    rest_s: float = 0.6
    stops: bool = False
    hang_share: float = 0.0
    rate_hz: float = 20_000.0
    transducer: Transducer = Transducer()

    @property
    def leak_m2(self) -> float:
        """All openings that never close."""
        return self.ring_leak_m2 + self.intake_leak_m2 + self.exhaust_leak_m2

    def rng(self, stream: int) -> np.random.Generator:
        """Return the random numbers of one purpose."""
        return np.random.default_rng((self.seed, 7, stream))
