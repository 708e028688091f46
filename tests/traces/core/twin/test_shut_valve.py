"""An exhaust valve that stays shut: found, named, and not taken for liquid or for weak others."""

import numpy as np
import pytest

from tests.traces.simulated import simulated_together
from traces.core.judging.pipeline import analyse
from traces.core.report.high_cylinders import standing_high
from traces.core.twin.lobes import ANGLES, compressed_again, lobe_table, lobes_at
from traces.core.twin.model import Profile
from traces.core.twin.shut_valve import place_beneath, without_second
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw


def lobes():
    n = 4
    return lobes_at(lobe_table("petrol"), np.full(n, 3.0), np.full(n, 0.9), np.zeros(n))


def profile(again):
    tdc_deg = np.array([0.0, 180.0, 360.0, 540.0])
    return Profile(np.ones(720), 0.6, tdc_deg, 100.0, "petrol", again)


def test_a_second_compression_gives_nothing_back() -> None:
    once = lobes()
    twice = compressed_again(once, 1)
    added = twice.torque[1] - once.torque[1]
    # entry ANGLES / 2 is firing top dead centre, so that the second one ends with the last entry
    rising = once.torque[1][: ANGLES // 2]
    assert added[ANGLES // 2 :] == pytest.approx(added[-10] / rising[-10] * rising)
    assert (added[: ANGLES // 2] == 0).all()
    assert added.sum() > 0.8 * rising.sum() > 0
    # only that cylinder's, and no figure by itself
    assert (twice.torque[[0, 2, 3]] == once.torque[[0, 2, 3]]).all()
    assert (twice.peaks == once.peaks).all()


@pytest.mark.parametrize(
    ("angles_deg", "place", "beneath"),
    [
        ((0, 180, 360, 540), 1, 3),
        ((0, 150, 240, 390, 480, 630), 1, 4),  # 510 less 480: near enough to stand on it
        ((0, 144, 288, 432, 576), 0, None),
    ],
)
def test_what_it_stands_on(angles_deg, place, beneath) -> None:
    assert place_beneath(np.array(angles_deg, dtype=np.float64), place) == beneath


def test_readings_without_it() -> None:
    read = np.array([0.55, 1.0, 0.5, 0.6])
    assert without_second(profile(None), read) is read
    assert without_second(profile(3), read) == pytest.approx([1.0, 1.0, 0.909, 1.0], abs=1e-3)


SHUT = [(352_100_000, "I4"), (352_100_001, "I4"), (352_100_000, "I5")]
HIGH = (352_000_001, "V6")


@pytest.fixture(scope="module")
@simulated_together
def captures() -> dict[tuple[int, str], Scenario]:
    faults = dict.fromkeys(SHUT, "exhaust-shut") | {HIGH: "high"}
    return {
        (seed, layout): draw(seed, layout, fault, family="a", sync="720")
        for (seed, layout), fault in faults.items()
    }


class TestSimulated:
    """Engines whose true figures are known."""

    @pytest.mark.parametrize("key", SHUT[:2])
    def test_four_cylinders(self, captures, key) -> None:
        # without it the companion, which read twice as high, made three others weak
        made = captures[key]
        report = analyse(made.waveform, made.scenario.setup())
        (shut,) = (i for i, c in enumerate(made.scenario.engine.cylinders, 1) if c.faulty)
        order = made.scenario.engine.firing_order
        named = [e.cylinder for e in report.estimates]
        second = report.parts.second_compression
        assert second is not None
        assert report.candidates == ((),)
        assert second.on is not None
        assert (named[second.of], named[second.on]) == (shut, order.companion_of(shut))
        assert standing_high(report) == (second.on,)
        assert "high-hump" in {f.code for f in report.findings}
        for estimate in report.estimates:
            truth = made.truth.relative_sound[(estimate.cylinder or 0) - 1]
            within = 0.3 if estimate.cylinder == named[second.on] else 0.1
            assert estimate.relative == pytest.approx(truth, abs=within)

    def test_between_two_humps_of_five(self, captures) -> None:
        made = captures[SHUT[2]]
        report = analyse(made.waveform, made.scenario.setup())
        (shut,) = (i for i, c in enumerate(made.scenario.engine.cylinders, 1) if c.faulty)
        second = report.parts.second_compression
        assert second is not None
        assert report.candidates == ((),)
        assert (report.estimates[second.of].cylinder, second.on) == (shut, None)
        assert standing_high(report) == ()

    def test_a_small_clearance_is_none(self, captures) -> None:
        made = captures[HIGH]
        report = analyse(made.waveform, made.scenario.setup())
        assert report.parts.second_compression is None
        assert "high-hump" in {f.code for f in report.findings}
