"""Cases drawn by seed: engines, transducers and recorders as shops have them."""

from dataclasses import replace
from typing import Literal, TypeAlias

import numpy as np

from traces.simulator.pressure.case import PressureCase, Transducer, ValveTiming

PressureState: TypeAlias = Literal["cranking", "running"]

SCALES_KPA_PER_V = (250.0, 500.0, 689.5, 1000.0, 1379.0)
"""Five transducers: 10, 20 and 40 bar over 4 V, 400 and 800 psi over 4 V."""
BITS = (8, 10, 12, 14, 16)
RATES_HZ = (2_000.0, 5_000.0, 20_000.0, 50_000.0, 200_000.0)
_DITHER = 0.5
"""Noise of recorders of few bits in their own steps."""


def draw_pressure(seed: int, state: PressureState, scale: int) -> PressureCase:
    """Draw a sound engine with the transducer of one scale; the same seed gives the same engine.

    Parameters
    ----------
    seed
        Of engine and recording.
    state
        Cranked, or running with this cylinder cut out.
    scale
        Which of `SCALES_KPA_PER_V`.
    """
    rng = np.random.default_rng((seed, 71))
    cylinders = int(rng.choice([3, 4, 4, 6, 8]))
    bore_m = float(rng.uniform(0.070, 0.096))
    opens = float(rng.uniform(122, 138))
    timing = ValveTiming(
        exhaust_opens_deg=opens,
        exhaust_closes_deg=float(rng.uniform(368, 382)),
        intake_opens_deg=float(rng.uniform(338, 356)),
        intake_closes_deg=float(rng.uniform(580, 602)),
    )
    case = PressureCase(
        seed=seed,
        bore_m=bore_m,
        stroke_m=bore_m * float(rng.uniform(0.9, 1.1)),
        rod_over_crank=float(rng.uniform(3.0, 3.7)),
        compression_ratio=float(rng.uniform(8.5, 11.5)),
        timing=timing,
        lift_m=float(rng.uniform(0.0075, 0.0105)),
        intake_bore_m=0.48 * bore_m,
        exhaust_bore_m=0.41 * bore_m,
        swings=cylinders,
        heat=str(rng.choice(["woschni", "annand"])),
        ring_leak_m2=float(rng.uniform(1e-7, 4e-7)),
        rate_hz=float(rng.choice(RATES_HZ)),
        transducer=draw_transducer(rng, scale),
    )
    if state == "cranking":
        return replace(
            case,
            rpm=float(rng.uniform(170, 300)),
            swing=float(rng.uniform(0.12, 0.30)) / cylinders,
            cycles=int(rng.integers(7, 12)),
            intake_kpa=float(rng.uniform(96, 99)),
            wall_k=float(rng.uniform(290, 350)),
        )
    return replace(
        case,
        rpm=float(rng.uniform(650, 1000)),
        swing=float(rng.uniform(0.02, 0.06)) / cylinders,
        cycles=int(rng.integers(20, 45)),
        intake_kpa=float(rng.uniform(28, 45)),
        wall_k=float(rng.uniform(350, 390)),
        exhaust_k=float(rng.uniform(450, 650)),
        peak_spread=0.012,
        stops=bool(rng.random() < 0.5),
    )


def draw_transducer(rng: np.random.Generator, scale: int) -> Transducer:
    """Return a transducer of a scale on a recorder of drawn resolution, with room above."""
    kpa_per_v = SCALES_KPA_PER_V[scale]
    zero_v = float(rng.uniform(0.2, 1.0))
    high_v = zero_v + 3000.0 / kpa_per_v
    low_v = zero_v - 200.0 / kpa_per_v - float(rng.uniform(0.0, 0.1)) * high_v
    bits = int(rng.choice(BITS))
    step_v = (high_v - low_v) / 2**bits
    return Transducer(
        kpa_per_v=kpa_per_v,
        zero_v=zero_v,
        bandwidth_hz=float(rng.choice([2000.0, 5000.0, 20000.0])),
        noise_v=float(np.hypot(_DITHER * step_v, rng.uniform(0.3, 1.5) / kpa_per_v)),
        bits=bits,
        low_v=low_v,
        high_v=high_v,
        drift_v_per_s=float(rng.uniform(-0.3, 0.3)) / kpa_per_v,
    )
