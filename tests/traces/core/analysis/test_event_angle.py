"""The angle of an injector or cam edge: measured beside ignition, used by the next capture."""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest

from tests.traces.simulated import simulated_together
from traces.core.analysis.any_signal import judge
from traces.core.analysis.event_angle import AngleNotMeasuredError, measure_event_angle
from traces.core.analysis.measured_event import with_measured_event
from traces.core.setup.analysis_setup import (
    AnalysisSetup,
    EventToMeasure,
    SetupError,
    SyncEvent,
    SyncSetup,
)
from traces.core.setup.manual_edits import ManualEdits, ManualMarks
from traces.core.waveform.waveform import Channel, Waveform
from traces.simulator.other_signals import voltage_capture
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated
from traces.simulator.truth import Truth
from traces.simulator.voltage_log import VoltageLog

INJECTOR_DEG = -330.0
CAM_DEG = 95.0
CLOSE_DEG = 9.0
"""The fitted top dead centre is a few degrees off, and an injector is seen as it closes."""


@dataclass(frozen=True)
class Engine:
    """An engine cranked with ignition, injector and cam recorded, and again with one of them."""

    beside: Waveform
    setup: AnalysisSetup
    truth: Truth
    later: dict[SyncEvent, Simulated]

    @property
    def cylinder(self) -> int:
        assert self.setup.sync
        return self.setup.sync.cylinder


FAMILIES: tuple[Family, ...] = ("a", "b")


def _scenarios(family: Family) -> list[Scenario]:
    drawn = draw(610, layout="I4", fault="one", family=family, sync="720")
    drawn = replace(drawn, rate_hz=2000.0, crank_s=4.0)
    assert drawn.sync
    spark = replace(drawn, sync=replace(drawn.sync, event="ignition", angle_deg=-8.0))
    injector = replace(drawn, sync=replace(drawn.sync, event="injector", angle_deg=INJECTOR_DEG))
    cam = replace(drawn, sync=replace(drawn.sync, event="cam", angle_deg=CAM_DEG))
    turned_deg = (drawn.start_deg + 200.0) % 720.0
    return [spark, injector, cam, *(replace(s, start_deg=turned_deg) for s in (injector, cam))]


@simulated_together
def _cranks() -> dict[tuple[Family, int], Scenario]:
    return {(f, i): s for f in FAMILIES for i, s in enumerate(_scenarios(f))}


@cache
def _engine(family: Family) -> Engine:
    made = [simulated for (of, _), simulated in _cranks().items() if of == family]
    others = [
        replace(m.waveform.channels[1], name=n)
        for m, n in zip(made[1:3], ("injector", "cam"), strict=True)
    ]
    beside = replace(made[0].waveform, channels=(*made[0].waveform.channels, *others))
    return Engine(
        beside, made[0].scenario.setup(), made[0].truth, {"injector": made[3], "cam": made[4]}
    )


@pytest.fixture(scope="module")
def engine() -> Engine:
    """The engine where one family is as good as another."""
    return _engine("a")


def _measured(engine: Engine, event: SyncEvent, setup: AnalysisSetup | None = None):
    channel = event
    return measure_event_angle(
        engine.beside,
        setup or engine.setup,
        channel=channel,
        event=event,
        cylinder=engine.cylinder,
    )


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize(("event", "true_deg"), [("injector", INJECTOR_DEG), ("cam", CAM_DEG)])
def test_the_angle_beside_ignition_names_the_cylinder_next_time(family, event, true_deg) -> None:
    engine = _engine(family)
    found = _measured(engine, event)
    assert found.angle_deg == pytest.approx(true_deg, abs=CLOSE_DEG)
    assert 0 < found.spread_deg < 10
    assert found.count >= 4
    later = engine.later[event]
    setup = later.scenario.setup()
    assert setup.sync
    unknown = replace(setup, sync=replace(setup.sync, angle_deg=None))
    assert not judge(later.waveform, unknown).cylinders_known
    learnt = replace(setup.sync, angle_deg=found.angle_deg, angle_spread_deg=found.spread_deg)
    report = judge(later.waveform, replace(setup, sync=learnt))
    assert report.cylinders_known
    assert report.candidates == (later.truth.low,)
    assert "which-cylinder" not in {f.code for f in report.findings}


def test_a_mark_by_hand_settles_labels_enough_to_measure(engine) -> None:
    assert engine.setup.sync
    events_s = judge(engine.beside, engine.setup).sync_events_s
    marks = ManualMarks((events_s[3],), engine.cylinder, "ignition")
    by_hand = replace(engine.setup, sync=None, hand=ManualEdits(marks=marks))
    found = _measured(engine, "cam", by_hand)
    assert found.angle_deg == pytest.approx(CAM_DEG, abs=CLOSE_DEG)


def test_an_angle_measured_from_another_cylinder_counts_from_its_own_top(engine) -> None:
    order = engine.setup.firing_order.starting_at(engine.cylinder)
    following = order.sequence[1]
    other = measure_event_angle(
        engine.beside, engine.setup, channel="cam", event="cam", cylinder=following
    )
    # it fires 180 degrees later
    assert other.angle_deg == pytest.approx(_measured(engine, "cam").angle_deg - 180.0, abs=0.2)


def test_labels_that_are_not_settled_measure_nothing(engine) -> None:
    assert engine.setup.sync
    without = replace(engine.setup, sync=None)
    with pytest.raises(AngleNotMeasuredError):
        _measured(engine, "cam", without)
    cam = SyncSetup("cam", engine.cylinder, "cam")
    with pytest.raises(AngleNotMeasuredError):
        _measured(engine, "injector", replace(engine.setup, sync=cam))


@simulated_together
def _plain() -> dict[str, Scenario]:
    return {"I4": draw(12, layout="I4", fault="none", sync="720")}


def test_beside_a_plain_reading_nothing_is_measured() -> None:
    """It fits no top dead centre; the analysis failed where an event was asked for beside it."""
    simulated = _plain()["I4"]
    log, setup = voltage_capture(simulated, VoltageLog(rate_hz=100.0, bits=12))
    coil = next(c for c in log.channels if setup.sync and c.name == setup.sync.channel)
    log = replace(log, channels=(*log.channels, replace(coil, name="cam")))
    report = judge(log, setup)
    assert (report.method, report.verdict, report.cylinders_known) == ("plain", "even", True)
    asked = replace(setup, measured_event=EventToMeasure("cam", "cam", 1))
    told = with_measured_event(report, log, asked)
    assert told.parts.event_angle is None
    assert "event-not-measured" in {f.code for f in told.findings}


def test_what_keeps_to_no_angle_is_refused(engine) -> None:
    clamp, spark, *_ = engine.beside.channels
    size = clamp.values.size
    noise = np.random.default_rng(4).normal(0, 0.01, size)
    at = np.random.default_rng(5).choice(size, 30, replace=False)
    noise[at] += 2.0
    waveform = replace(
        engine.beside, channels=(clamp, spark, Channel("injector", "V", noise.astype(np.float32)))
    )
    with pytest.raises(AngleNotMeasuredError):
        _measured(replace(engine, beside=waveform), "injector")


def test_the_sync_itself_and_a_channel_that_is_not_there_are_refused(engine) -> None:
    with pytest.raises(AngleNotMeasuredError):
        measure_event_angle(
            engine.beside, engine.setup, channel="coil", event="ignition", cylinder=1
        )
    with pytest.raises(SetupError):
        measure_event_angle(engine.beside, engine.setup, channel="Z", event="cam", cylinder=1)
    with pytest.raises(SetupError):
        measure_event_angle(engine.beside, engine.setup, channel="cam", event="cam", cylinder=9)


UNEVEN = {"V6-odd": (96.0,), "V10-uneven": (155.0, 260.0)}
"""Where the other edges of a cam stand, by layout."""


@pytest.fixture(scope="module")
@simulated_together
def uneven() -> dict[str, Scenario]:
    scenarios = {}
    for layout, more_deg in UNEVEN.items():
        made = draw(9_100_017, layout, "one", family="b", sync="720")
        assert made.sync is not None
        cam = replace(
            made.sync,
            event="cam",
            angle_deg=230.0,
            entered_angle_deg=224.0,
            width_deg=36.0,
            more_edges_deg=more_deg,
            missing_first=0,
        )
        scenarios[layout] = replace(made, sync=cam, rate_hz=2000.0, crank_s=3.6)
    return scenarios


class TestSeveralEdges:
    """A cam wheel with edges at several places: which of them is meant is not known."""

    @pytest.fixture(autouse=True)
    def of_one_engine(self, engine: Engine) -> None:
        self.engine = engine
        (self.low,) = engine.truth.low
        order = engine.setup.firing_order.starting_at(self.low)
        self.fires_before = order.sequence[-1]

    def waveform(self, edges_deg: tuple[float, ...]) -> Waveform:
        clamp, track = self.engine.beside.channels[0], self.engine.truth.track
        time_s = np.arange(clamp.values.size) / self.engine.beside.rate_hz
        crank_deg = np.rad2deg(np.interp(time_s, track.time_s, track.angle_rad))
        turned_deg = crank_deg - self.engine.setup.firing_order.angle_of(1)
        level = np.zeros(clamp.values.size)
        for edge in edges_deg:
            level[(turned_deg - edge) % 720.0 < 40.0] = 4.0
        cam = Channel("cam", "V", level.astype(np.float32))
        return replace(self.engine.beside, channels=(clamp, cam))

    def setup(self, **sync) -> AnalysisSetup:
        return replace(self.engine.setup, sync=SyncSetup("cam", 1, "cam", **sync))

    def test_they_count_the_cycle_and_name_nobody(self) -> None:
        report = judge(self.waveform((50.0, 170.0, 400.0)), self.setup())
        assert report.verdict != "not judged", report.findings
        assert set(report.candidates) == {(1,), (2,), (3,), (4,)}
        told = next(f for f in report.findings if f.code == "sync-angle-unknown")
        assert "3 times" in told.message

    @pytest.mark.parametrize("stated", [0, 1, 2])
    def test_the_edge_whose_angle_was_stated_is_found(self, stated: int) -> None:
        # 50, 110 and 350 degrees after the firing top dead centre of cylinder 1
        edges_deg = (50.0, 110.0, 350.0)
        report = judge(self.waveform(edges_deg), self.setup(angle_deg=edges_deg[stated]))
        assert report.candidates == ((self.low,),)
        assert report.cylinders_known
        assert report.parts.label is not None
        assert report.parts.label.confidence > 0.9, report.findings

    def test_edges_as_far_apart_as_firings_leave_it_open(self) -> None:
        # either edge fits 50 degrees: one names the low cylinder, the other the one before it
        report = judge(self.waveform((50.0, 230.0)), self.setup(angle_deg=50.0))
        assert report.verdict == "uneven", report.findings
        assert set(report.candidates) == {(self.low,), (self.fires_before,)}
        assert not report.cylinders_known
        assert "sync-angle-unknown" in {f.code for f in report.findings}
        assert {h.cylinder for h in report.humps} == {None}

    def test_a_measured_angle_is_that_of_the_edge_after_the_longest_pause(self) -> None:
        kept = self.setup(angle_deg=50.0, angle_spread_deg=5.0, angle_from="kept")
        report = judge(self.waveform((50.0, 230.0)), kept)
        assert report.candidates == ((self.low,),)
        assert report.cylinders_known
        # and was measured so, whichever edge is nearer to a firing
        typed = self.setup(angle_deg=50.0, angle_spread_deg=5.0, angle_from="typed")
        assert not judge(self.waveform((50.0, 230.0)), typed).cylinders_known

    @pytest.mark.parametrize("layout", UNEVEN)
    def test_unevenly_firing_engines_tell_which_edge_it_is(self, uneven, layout: str) -> None:
        # the other edges stand near firings of the other spacing
        capture = uneven[layout]
        report = judge(capture.waveform, capture.scenario.setup())
        assert report.verdict == "uneven", report.findings
        assert capture.truth.low in report.candidates
        assert len(report.candidates) <= 3
