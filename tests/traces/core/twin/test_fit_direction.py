"""Time's arrow: a capture read from its end is no starter that turns an engine."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.simulated import simulated_together
from traces.core.crank.time_direction import direction_of
from traces.core.judging.pipeline import analyse
from traces.core.preparation.preparation import prepare
from traces.core.twin.mirrored import mirrored_profiles
from traces.core.twin.model import Profile
from traces.core.waveform.waveform import Channel, Waveform
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw

# the four read from its end is fitted by no engine at all, the six by one in its own direction
ENGINES: list[tuple[str, str, Family, int, str]] = [
    ("I4", "one", "a", 41, "poor-fit"),
    ("I6", "one", "b", 43, "time-reversed"),
]


MANY_ALIKE: tuple[str, str, Family, int] = ("V12", "none", "a", 47)


@pytest.fixture(scope="module")
@simulated_together
def captures() -> dict[tuple[str, str, Family, int], Scenario]:
    kinds = [*(engine[:4] for engine in ENGINES), MANY_ALIKE]
    return {
        (layout, fault, family, seed): replace(
            draw(seed, layout, fault, family=family, sync="720"), rate_hz=1000.0, crank_s=4.5
        )
        for layout, fault, family, seed in kinds
    }


@pytest.fixture(scope="module", params=ENGINES, ids=lambda e: "-".join(map(str, e)))
def mirrored(request, captures):
    *kind, code = request.param
    return captures[tuple(kind)], code


def _backwards(waveform: Waveform, first: int = 0) -> Waveform:
    """Return every channel from its end, without the last `first` samples so read."""
    turned = (
        Channel(c.name, c.unit, np.asarray(c.values)[first:][::-1].copy())
        for c in waveform.channels
    )
    return replace(waveform, channels=tuple(turned))


def _stops(waveform, scenario):
    report = analyse(waveform, scenario.setup())
    return {f.code for f in report.findings if f.severity == "stop"}, report


def test_a_sound_capture_passes_and_its_mirror_is_refused(mirrored) -> None:
    simulated, code = mirrored
    stops, report = _stops(simulated.waveform, simulated.scenario)
    assert not stops
    assert "time-reversed" not in {f.code for f in report.findings}
    scenario = simulated.scenario
    # without the rest before and the inrush, which alone would give it away
    first = int((scenario.before_s + 0.7) * scenario.rate_hz)
    stops, report = _stops(_backwards(simulated.waveform, first), scenario)
    assert report.verdict == "not judged"
    assert stops == {code}


def test_many_alike_show_no_direction_and_are_not_refused_for_it(captures) -> None:
    simulated = captures[MANY_ALIKE]
    stops, report = _stops(simulated.waveform, simulated.scenario)
    assert not stops
    assert report.verdict == "even"


def test_the_inrush_at_the_end_gives_a_turned_recording_away(captures) -> None:
    # many alike show no direction in their humps
    simulated = captures[MANY_ALIKE]
    scenario = simulated.scenario
    cranking = prepare(simulated.waveform, scenario.setup()).cranking
    assert cranking is not None
    assert direction_of(cranking) == "forwards"
    stops, report = _stops(_backwards(simulated.waveform), scenario)
    assert stops == {"time-reversed"}
    assert report.verdict == "not judged"


def test_without_an_end_the_inrush_says_nothing(mirrored) -> None:
    simulated, _ = mirrored
    scenario, rate_hz = simulated.scenario, simulated.waveform.rate_hz
    samples = int((scenario.before_s + scenario.crank_s - 0.5) * rate_hz)
    channels = tuple(
        Channel(c.name, c.unit, c.values[:samples]) for c in simulated.waveform.channels
    )
    cranking = prepare(replace(simulated.waveform, channels=channels), scenario.setup()).cranking
    assert cranking is not None
    assert direction_of(cranking) == "unknown"


@simulated_together
def _pumping() -> dict[str, Scenario]:
    return {"I3": draw(81_600_000, "I3", family="c")}


def test_an_engine_that_only_a_pump_explains_is_not_called_a_turned_recording() -> None:
    capture = _pumping()["I3"]
    stops, report = _stops(capture.waveform, capture.scenario)
    assert not stops
    assert capture.truth.low in report.candidates


def test_a_mirrored_cycle_keeps_its_first_sample_and_turns_uneven_angles_too() -> None:
    current = np.array([1.0, 2.0, 0.5, 0.5])
    profile = Profile(
        current, 0.5, np.array([0.0, 150.0, 240.0, 390.0, 480.0, 630.0]), 60, "petrol"
    )
    as_entered, turned = mirrored_profiles(profile)
    for found in (as_entered, turned):
        assert found.current.tolist() == [1.0, 0.5, 0.5, 2.0]
    assert as_entered.tdc_deg.tolist() == profile.tdc_deg.tolist()
    # read from its end, the interval of 90 degrees before the first becomes the one after it
    assert turned.tdc_deg.tolist() == [0.0, 90.0, 240.0, 330.0, 480.0, 570.0]
    even = replace(profile, tdc_deg=np.array([0.0, 180.0, 360.0, 540.0]))
    assert len(list(mirrored_profiles(even))) == 1
    # an even engine whose first angle is a rounding error above 0 is even all the same
    shaky = replace(even, tdc_deg=even.tdc_deg + 1e-13)
    assert len(list(mirrored_profiles(shaky))) == 1
