"""The wheel behind tooth times: its teeth, its gaps, the crank's angle."""

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from tests.traces.core.signals.teeth import swinging, tooth_times_s, wheel_of
from tests.wording import says
from traces.core.setup.analysis_setup import SetupError, ToothWheel
from traces.core.signals.wheel import OnceACycle, WheelError, clearest_track, track_of

FOUR = FiringOrder.parse("1-3-4-2")
SIX = FiringOrder.parse("1-2-3-4-5-6")


def _assert_follows(track, times_s, angles) -> None:
    """Assert that each edge stands where it truly stood, from the first kept one on."""
    inside = np.isin(times_s, track.times_s)
    turned = angles[inside] - angles[inside][0]
    assert track.angle_deg == pytest.approx(turned, abs=1e-6)


class TestLearnt:
    @pytest.mark.parametrize(
        ("pattern", "teeth", "gaps"),
        [
            ("60-2", 60, [(58, 2)]),
            ("36-1", 36, [(35, 1)]),
            ("36-2-2", 36, [(10, 2), (34, 2)]),
            ("36-2-1", 36, [(10, 2), (34, 1)]),
            ("36-2-1-1", 36, [(10, 2), (22, 1), (35, 1)]),
            # gaps with one tooth between them
            ("36-2-2-2", 36, [(20, 2), (31, 2), (34, 2)]),
            ("24-1", 24, [(23, 1)]),
            ("120-2", 120, [(118, 2)]),
        ],
    )
    def test_gaps_are_sized_one_by_one_and_the_angle_is_the_cranks(
        self, pattern, teeth, gaps
    ) -> None:
        times_s, angles = tooth_times_s(wheel_of(teeth, gaps), teeth, swinging, 2.0)
        track = track_of(times_s, ToothWheel())
        assert track.pattern == pattern
        assert (track.teeth, track.missing) == (teeth, sum(size for _, size in gaps))
        _assert_follows(track, times_s, angles)

    @pytest.mark.parametrize("share", [1 / 3, 0.5, 0.7])
    def test_one_tooth_more_is_no_gap(self, share) -> None:
        places = [*map(float, range(12)), 4 + share]
        times_s, angles = tooth_times_s(sorted(places), 12, _swinging_little, 3.0)
        track = track_of(times_s, ToothWheel())
        assert (track.pattern, track.teeth, track.missing) == ("12+1", 12, 0)
        _assert_follows(track, times_s, angles)

    @pytest.mark.parametrize("extra_after", [0.2, 0.5, 0.9])
    def test_an_edge_that_is_no_tooth_costs_that_edge(self, extra_after) -> None:
        times_s, angles = tooth_times_s(wheel_of(60, [(58, 2)]), 60, swinging, 2.0)
        false_s = times_s[200] + extra_after * (times_s[201] - times_s[200])
        track = track_of(np.sort(np.append(times_s, false_s)), ToothWheel())
        assert track.pattern == "60-2"
        assert track.times_s.size >= times_s.size - 1
        kept = np.isin(times_s, track.times_s)
        true_deg = np.interp(track.times_s, times_s[kept], angles[kept])
        assert np.abs(track.angle_deg - (true_deg - true_deg[0])).max() < 6

    def test_a_tooth_without_an_edge_moves_no_other(self) -> None:
        times_s, angles = tooth_times_s(wheel_of(36, [(35, 1)]), 36, swinging, 2.0)
        kept = np.delete(np.arange(times_s.size), [100, 190])
        track = track_of(times_s[kept], ToothWheel())
        assert track.pattern == "36-1"
        _assert_follows(track, times_s[kept], angles[kept])

    def test_random_edges_make_no_wheel(self) -> None:
        rng = np.random.default_rng(1)
        with pytest.raises(WheelError):
            track_of(np.cumsum(rng.exponential(0.005, 400)), ToothWheel())

    def test_too_few_edges_make_no_wheel(self) -> None:
        with pytest.raises(WheelError) as refused:
            track_of(np.arange(5) / 100, ToothWheel())
        assert says(refused.value, "wheel.fewer-eight-teeth-pass")

    def test_a_wheel_of_wide_and_narrow_teeth_is_said_to_be_coded(self) -> None:
        rising_s, _ = tooth_times_s(range(24), 24, _swinging_little, 3.0)
        wide = np.array([0, 0, 1, 0, 1, 1, 0, 1, 1, 1, 0, 0] * 2)
        shares = np.where(np.resize(wide, rising_s.size - 1), 0.7, 0.25)
        falling_s = rising_s[:-1] + shares * np.diff(rising_s)
        with pytest.raises(WheelError) as refused:
            clearest_track((rising_s, falling_s), ToothWheel())
        assert says(refused.value, "wheel.they-stand-even-distances")
        # its even edges are good for the speed once the number of teeth is known
        track = clearest_track((rising_s, falling_s), ToothWheel.parse("24"))
        assert (track.teeth, track.missing) == (24, 0)


class TestSectors:
    """Edges of several equal sectors are those of a smaller wheel that turns faster."""

    def test_compressions_tell_three_sectors_from_three_turns(self) -> None:
        gaps = [(10, 2), (22, 2), (34, 2)]
        times_s, angles = tooth_times_s(wheel_of(36, gaps), 36, swinging, 2.0)
        track = track_of(times_s, ToothWheel(), FOUR)
        assert (track.pattern, track.teeth) == ("36-2-2-2", 36)
        assert track.usual_rpm == pytest.approx(240, rel=0.02)
        _assert_follows(track, times_s, angles)

    def test_a_running_engine_is_not_slowed_down_by_sectors(self) -> None:
        times_s, _ = tooth_times_s(wheel_of(36, [(35, 1)]), 36, lambda t: swinging(3 * t), 2.0)
        track = track_of(times_s, ToothWheel(), FOUR)
        assert track.pattern == "36-1"
        assert track.usual_rpm == pytest.approx(720, rel=0.02)

    def test_a_wheel_of_the_camshaft_is_no_crank_at_half_the_speed(self) -> None:
        gaps = [(10, 2), (22, 1), (35, 1)]
        times_s, _ = tooth_times_s(wheel_of(36, gaps), 36, lambda t: swinging(t) / 2, 6.0)
        with pytest.raises(WheelError, match="camshaft"):
            track_of(times_s, ToothWheel(), FOUR)

    def test_without_compressions_a_sync_settles_it_or_the_wheel_is_asked_for(self) -> None:
        gaps = [(10, 2), (22, 2), (34, 2)]
        times_s, angles = tooth_times_s(wheel_of(36, gaps), 36, lambda t: 1440 * t, 2.0)
        with pytest.raises(WheelError) as refused:
            track_of(times_s, ToothWheel(), SIX)
        assert says(refused.value, "wheel_sectors.gaps-come-back-every")
        events_s = np.interp(np.arange(100, angles[-1], 720), angles, times_s)
        beside = OnceACycle(events_s, 720)
        track = track_of(times_s, ToothWheel(), SIX, beside=beside)
        assert track.pattern == "36-2-2-2"
        assert track.usual_rpm == pytest.approx(240, rel=0.01)
        # windows of a cam come at unlike distances and settle nothing
        unlike_s = np.sort(np.concatenate((events_s, events_s + 0.13)))
        with pytest.raises(WheelError) as refused:
            track_of(times_s, ToothWheel(), SIX, beside=OnceACycle(unlike_s, 720))
        assert says(refused.value, "wheel_sectors.gaps-come-back-every")
        track = track_of(times_s, ToothWheel.parse("36-2-2-2"), SIX)
        assert track.usual_rpm == pytest.approx(240, rel=0.01)
        _assert_follows(track, times_s, angles)


class TestEntered:
    def test_a_wheel_without_a_gap_needs_its_teeth_told(self) -> None:
        times_s, _ = tooth_times_s(range(36), 36, swinging, 2.0)
        with pytest.raises(WheelError) as refused:
            track_of(times_s, ToothWheel())
        assert says(refused.value, "wheel.no-gap-comes-back")
        assert track_of(times_s, ToothWheel(teeth=36, missing=0)).teeth == 36

    @pytest.mark.parametrize(
        ("entered", "why"),
        [("36", "come back after 36"), ("60-3", "entered is 60-3 .* make 60-2"), ("60-0", "60-2")],
    )
    def test_a_wheel_that_is_told_wrongly_is_refused(self, entered, why) -> None:
        times_s, _ = tooth_times_s(wheel_of(60, [(58, 2)]), 60, swinging, 2.0)
        with pytest.raises(WheelError, match=why):
            track_of(times_s, ToothWheel.parse(entered))

    def test_few_teeth_between_compressions_are_read_once_the_wheel_is_known(self) -> None:
        times_s, angles = tooth_times_s(wheel_of(12, [(11, 1)]), 12, swinging, 3.0)
        track = track_of(times_s, ToothWheel.parse("12-1"), FOUR)
        assert track.pattern == "12-1"
        _assert_follows(track, times_s, angles)


KINDS = {
    "60-2": (60, wheel_of(60, [(58, 2)])),
    "36-1": (36, wheel_of(36, [(35, 1)])),
    "36-2": (36, wheel_of(36, [(34, 2)])),
    "24-1": (24, wheel_of(24, [(23, 1)])),
    "24+1": (24, [*map(float, range(24)), 7.33]),
    "12+1": (12, [*map(float, range(12)), 4.6]),
    "36-2-2-2": (36, wheel_of(36, [(20, 2), (31, 2), (34, 2)])),
    "36-2-1-1": (36, wheel_of(36, [(10, 2), (22, 1), (35, 1)])),
    "120-2": (120, wheel_of(120, [(118, 2)])),
    "60-2-2": (60, wheel_of(60, [(28, 2), (58, 2)])),
    "36-1-1": (36, wheel_of(36, [(17, 1), (35, 1)])),
    "60-2-2-2": (60, wheel_of(60, [(18, 2), (38, 2), (58, 2)])),
}


class TestOnSimulatedCranks:
    """Speed is right or the wheel is asked for, whatever the wheel and however the crank limps."""

    @pytest.mark.parametrize("fault", ["none", "dead"])
    @pytest.mark.parametrize("polarity", [1, -1], ids=["high at teeth", "low at teeth"])
    @pytest.mark.parametrize("kind", KINDS)
    def test_both_sides_of_a_square_wave(self, cranked, kind, polarity, fault) -> None:
        simulated = cranked(9201, "I4", fault)
        track, (from_s, to_s) = simulated.truth.track, simulated.truth.steady_s

        def angle_deg(time_s):
            forward = np.maximum.accumulate(np.rad2deg(track.angle_rad))
            return np.interp(time_s, track.time_s, forward)

        teeth, places = KINDS[kind]
        narrow = np.sort(places) + 0.15  # narrower than the additional tooth's distances
        rising_s, falling_s = (
            tooth_times_s(side, teeth, angle_deg, track.time_s[-1])[0]
            for side in (np.sort(places), narrow)
        )
        try:
            found = clearest_track((rising_s, falling_s)[::polarity], ToothWheel(), FOUR)
        except WheelError:
            assert teeth == 12  # three teeth between two compressions
            return
        turned_deg = np.diff(angle_deg(np.array([from_s, to_s])))[0]
        assert found.usual_rpm == pytest.approx(turned_deg / (to_s - from_s) / 6, rel=0.06)
        assert found.pattern == kind
        assert not found.ran


def test_of_two_sides_that_make_one_wheel_the_one_with_like_gaps_is_chosen() -> None:
    times_s, _ = tooth_times_s(wheel_of(60, [(58, 2)]), 60, _swinging_little, 2.0)
    rng = np.random.default_rng(3)
    jittered_s = times_s + rng.normal(0, 4e-5, times_s.size)
    # the other side is smoother but for what stands at the gaps
    other_s = times_s + 1e-3
    other_s[57::58] += np.resize([0.0, 5e-4], other_s[57::58].size)
    track = clearest_track((other_s, jittered_s), ToothWheel())
    assert np.isin(track.times_s, jittered_s).all()


def _swinging_little(time_s):
    return 1440 * time_s + 1440 / 12 / (16 * np.pi) * np.sin(16 * np.pi * time_s)


def test_the_part_in_which_the_engine_runs_is_left_out() -> None:
    fine_s = np.linspace(0, 5, 5001)
    speed = np.interp(fine_s, [0, 3, 3.6, 5], [1440, 1440, 5400, 9000])
    turned = np.concatenate(([0], np.cumsum((speed[1:] + speed[:-1]) / 2 * np.diff(fine_s))))
    times_s, _ = tooth_times_s(
        wheel_of(60, [(58, 2)]), 60, lambda t: np.interp(t, fine_s, turned), 5.0
    )
    track = track_of(times_s, ToothWheel(), FOUR)
    assert track.ran
    assert track.usual_rpm == pytest.approx(240, rel=0.02)
    assert 2.5 < track.times_s[-1] < 3.3


class TestWritten:
    @pytest.mark.parametrize(
        ("written", "wheel"),
        [
            ("60-2", ToothWheel(60, gaps=(2,))),
            (" 36 - 2-1-1", ToothWheel(36, 4, gaps=(2, 1, 1))),
            ("36–1", ToothWheel(36, gaps=(1,))),
            ("12+1", ToothWheel(12, additional=True)),
            ("36", ToothWheel(36)),
            ("36-0", ToothWheel(36, 0)),
        ],
    )
    def test_it_is_read_as_meant(self, written, wheel) -> None:
        assert ToothWheel.parse(written) == wheel
        assert ToothWheel.from_json(wheel.to_json()) == wheel

    @pytest.mark.parametrize("written", ["", "2", "36-", "36-2-0", "36+2", "a", "36-10", "500-2"])
    def test_what_is_no_wheel_is_refused(self, written) -> None:
        with pytest.raises(SetupError):
            ToothWheel.parse(written)

    def test_numbers_beside_a_pattern_have_to_agree(self) -> None:
        with pytest.raises(SetupError):
            ToothWheel.from_json({"teeth": 60, "pattern": "36-1"})
        assert ToothWheel.from_json({"teeth": 36, "missing": 1, "pattern": "36-1"}).gaps == (1,)

    def test_numbers_alone_are_kept_as_they_are(self) -> None:
        told = {"teeth": 60, "missing": 2}
        assert ToothWheel.from_json(told).to_json() == told
