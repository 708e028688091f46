"""Which channels pass for one cylinder's pressure, and which do not."""

from dataclasses import replace

import numpy as np
import pytest

from traces.core.pressure import cylinder_seen
from traces.simulator.pressure import PressureCase, pressure_capture

RATE_HZ = 5_000.0
TIME_S = np.arange(int(6 * RATE_HZ)) / RATE_HZ
TURN = (TIME_S % 0.5) / 0.5 - 0.5
"""Share of a cycle of half a second, from its middle."""
CRANKED = PressureCase(rate_hz=RATE_HZ)
IDLING = replace(CRANKED, rpm=750.0, intake_kpa=38.0, swing=0.01, wall_k=380.0, exhaust_k=600.0)


@pytest.mark.parametrize("case", [CRANKED, IDLING, replace(CRANKED, exhaust_leak_m2=3e-6)])
def test_a_cylinder_is_seen_with_its_speed(case: PressureCase) -> None:
    volts = pressure_capture(case).waveform.channels[0].values.astype(np.float64)
    seen = cylinder_seen(volts, RATE_HZ)
    assert seen is not None
    assert seen.rpm == pytest.approx(case.rpm, rel=0.03)
    # an offset or a small scale changes nothing
    assert cylinder_seen(0.01 * volts - 3.0, RATE_HZ) is not None


def _window() -> np.ndarray:
    """Return the window of a cam wheel, as wide as a compression."""
    return np.where(np.abs(TURN) < 0.045, 5.0, 0.0)


def _one_good_cylinder_of_four() -> np.ndarray:
    """Return a starter's current: one hump as it should be, three of a third."""
    heights = np.array([1.0, 0.33, 0.33, 0.33])[(4 * (TURN + 0.5)).astype(int) % 4]
    humps = np.sin(np.pi * ((4 * (TURN + 0.5)) % 1.0)) ** 2
    return np.asarray(100.0 + 60.0 * heights * humps)


def _teeth() -> np.ndarray:
    return np.asarray(np.sign(np.sin(2 * np.pi * 240.0 * TIME_S)))


@pytest.mark.parametrize("other", [_window, _one_good_cylinder_of_four, _teeth])
def test_what_is_no_cylinder_is_not_taken_for_one(other) -> None:
    noise = np.random.default_rng(1).normal(0, 0.01, TIME_S.size)
    assert cylinder_seen(other() + noise, RATE_HZ) is None
