"""The wheel behind tooth times: its teeth, its gaps, the crank's angle."""

import numpy as np
import pytest

from tests.traces.core.signals.teeth import swinging, tooth_times_s, wheel_of
from traces.core.setup import ToothWheel
from traces.core.signals.wheel import WheelError, track_of


class TestWheel:
    @pytest.mark.parametrize(
        ("teeth", "gaps"),
        [
            (60, [(58, 2)]),
            (36, [(35, 1)]),
            (36, [(10, 2), (34, 2)]),
            (24, [(23, 1)]),
            (120, [(118, 2)]),
        ],
    )
    def test_teeth_and_gaps_are_found_and_the_angle_is_the_cranks(self, teeth, gaps) -> None:
        times_s, angles = tooth_times_s(wheel_of(teeth, gaps), teeth, swinging, 2.0)
        track = track_of(times_s, ToothWheel())
        assert (track.teeth, track.missing) == (teeth, sum(size for _, size in gaps))
        inside = np.isin(times_s, track.times_s)
        turned = angles[inside] - angles[inside][0]
        assert track.angle_deg == pytest.approx(turned, abs=1e-9)

    def test_a_wheel_without_a_gap_needs_its_teeth_told(self) -> None:
        times_s, _ = tooth_times_s(range(36), 36, swinging, 2.0)
        with pytest.raises(WheelError, match="number of teeth must be entered"):
            track_of(times_s, ToothWheel())
        assert track_of(times_s, ToothWheel(teeth=36, missing=0)).teeth == 36

    def test_a_wheel_that_is_told_wrongly_is_refused(self) -> None:
        times_s, _ = tooth_times_s(wheel_of(60, [(58, 2)]), 60, swinging, 2.0)
        with pytest.raises(WheelError, match="do not come back after 36"):
            track_of(times_s, ToothWheel(teeth=36))

    def test_random_edges_make_no_wheel(self) -> None:
        rng = np.random.default_rng(1)
        times_s = np.cumsum(rng.exponential(0.005, 400))
        with pytest.raises(WheelError):
            track_of(times_s, ToothWheel())

    def test_too_few_edges_make_no_wheel(self) -> None:
        with pytest.raises(WheelError, match="fewer than eight"):
            track_of(np.arange(5) / 100, ToothWheel())
