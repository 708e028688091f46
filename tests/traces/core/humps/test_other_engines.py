"""Engines entered with the wrong firing angles or number of cylinders, and such as are right."""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from engines.core.spacing import with_intervals
from tests.traces.simulated import simulated_together
from traces.core.analysis.balance_files import text_of
from traces.core.humps.reference import Limits, find_reference
from traces.core.judging.pipeline import analyse
from traces.core.judging.verdict_checks import check_estimates
from traces.core.report.publishing import published
from traces.core.report.results import Estimate, Report
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated

_KINDS: dict[str, dict[str, Any]] = {
    "150/90": {"layout": "V6-odd", "fault": "none"},
    "132/108": {"layout": "V6-semi", "fault": "one", "family": "b"},
    "90/54": {"layout": "V10-uneven", "fault": "none"},
    "even V6": {"layout": "V6", "fault": "none"},
    "low bank": {"layout": "V6", "fault": "bank", "family": "b"},
    "V8": {"layout": "V8", "fault": "one"},
    "four": {"layout": "I4", "fault": "none", "family": "b"},
}


@pytest.fixture(scope="module")
@simulated_together
def captures() -> dict[str, Scenario]:
    drawn = [
        replace(draw(7_100_011 + i, sync="720", **kind), rate_hz=2000.0, crank_s=3.2)
        for i, kind in enumerate(_KINDS.values())
    ]
    # an event of known place in each, so that cylinders are named
    for i, scenario in enumerate(drawn):
        assert scenario.sync is not None
        sync = replace(
            scenario.sync,
            event="ignition",
            angle_deg=-8.0,
            entered_angle_deg=None,
            leakage=0.05,
        )
        drawn[i] = replace(scenario, sync=sync)
    return dict(zip(_KINDS, drawn, strict=True))


def _judged(capture: Simulated, order: FiringOrder, **changes: Any) -> Report:
    changes = {"firing_order": order, "banks": None, **changes}
    setup: AnalysisSetup = replace(capture.scenario.setup(), **changes)
    return _report(capture, setup)


@cache
def _report(capture: Simulated, setup: AnalysisSetup) -> Report:
    """Judge once what several tests look at: captures are told apart by identity."""
    return analyse(capture.waveform, setup)


def _stops(report: Report) -> list[str]:
    return [f.code for f in report.findings if f.severity == "stop"]


def _even(capture: Simulated) -> FiringOrder:
    return FiringOrder.even(capture.scenario.engine.firing_order.sequence)


@pytest.mark.parametrize("kind", ["150/90", "132/108"])
def test_forgotten_angles_are_refused(captures, kind) -> None:
    capture = captures[kind]
    report = _judged(capture, _even(capture))
    assert report.verdict == "not judged"
    assert _stops(report) == ["angles-unlikely"]
    found = next(f for f in report.findings if f.code == "angles-unlikely")
    assert kind in found.message


def test_pairs_that_look_like_one_hump_are_refused(captures) -> None:
    """Firings 54 degrees apart make one hump, so that ten evenly spaced ones seem two cycles."""
    capture = captures["90/54"]
    assert _stops(_judged(capture, _even(capture))) != []


@pytest.mark.parametrize("kind", ["150/90", "132/108", "90/54", "even V6", "low bank"])
def test_right_angles_are_not_doubted(captures, kind) -> None:
    capture = captures[kind]
    report = _judged(capture, capture.scenario.engine.firing_order)
    assert _stops(report) == []
    assert not any(f.code.startswith("angles-") for f in report.findings)
    assert capture.truth.low in report.candidates


def test_angles_of_an_even_engine_are_refused(captures) -> None:
    # the two that are harder to tell from even ones
    capture = captures["even V6"]
    report = _judged(capture, with_intervals(_even(capture), (108.0, 132.0) * 3))
    assert _stops(report) == ["angles-unlikely"]


def test_the_wrong_way_round_is_refused(captures) -> None:
    capture = captures["132/108"]
    order = with_intervals(_even(capture), (108.0, 132.0) * 3)
    assert _stops(_judged(capture, order)) == ["angles-unlikely"]


def test_forgotten_angles_are_refused_without_sync(captures) -> None:
    capture = captures["132/108"]
    assert _stops(_judged(capture, _even(capture), sync=None)) == ["angles-unlikely"]


@pytest.mark.parametrize(
    ("kind", "entered"),
    [("V8", "1-3-4-2"), ("V8", "1-5-3-6-2-4"), ("four", "1-2-4-5-3"), ("four", "1-3-2")],
)
def test_a_wrong_number_of_cylinders_is_refused(captures, kind, entered) -> None:
    capture = captures[kind]
    order = FiringOrder.parse(entered)
    sync = capture.scenario.setup().sync
    assert sync is not None
    report = _judged(capture, order, sync=replace(sync, cylinder=1))
    assert report.verdict == "not judged"
    # laid over the wrong cycle the events come at odd places of it
    assert {"hump-mismatch", "sync-mismatch"} & set(_stops(report))


def _estimates(figures: list[float]) -> tuple[Estimate, ...]:
    return tuple(
        Estimate(i, None, figure, figure - 0.03, figure + 0.03, "sound", (), figure)
        for i, figure in enumerate(figures, start=1)
    )


@pytest.mark.parametrize(
    ("figures", "refused"),
    [
        ([1.0, 0.1, 1.0, 0.1], True),
        ([1.0, 0.3, 1.0, 0.3], False),  # a weak bank
        ([1.0, 0.4, 0.1, 1.0, 0.3, 0.2], True),  # two that seem to be six
        ([1.0, 0.4, 0.1, 0.5, 0.3, 0.2], False),
        ([0.3, 0.1, 1.0, 0.3, 0.1, 1.0, 0.3, 0.1, 1.0], True),
        ([1.0, 0.1, 0.1], False),  # a three with two dead ones
        ([0.1, 0.0, 1.0, 0.0, 0.0, 0.9, 0.0, 0.1], True),  # three that seem to be eight
        ([0.1, 0.1, 1.0, 0.9], False),
    ],
)
def test_humps_at_every_second_or_third_firing_only(figures, refused) -> None:
    order = FiringOrder.even(range(1, len(figures) + 1))
    limits = Limits(0.80, 0.88)
    reference = find_reference(np.array(figures), limits)
    found = check_estimates(_estimates(figures), reference, order, limits)
    assert ("hump-mismatch" in {f.code for f in found}) is refused


def test_the_angles_used_are_told(captures) -> None:
    capture = captures["150/90"]
    report = _judged(capture, _even(capture))
    result = published(report, file="a.csv", signal="starter-current", seconds=0.1)
    assert result["firing_angles"]["even"]
    assert "120 degrees apart" in text_of(result)
    report = _judged(capture, capture.scenario.engine.firing_order)
    result = published(report, file="a.csv", signal="starter-current", seconds=0.1)
    assert result["firing_angles"]["angles_deg"] == [0.0, 150.0, 240.0, 390.0, 480.0, 630.0]
    assert "150/90" in text_of(result)
    report = _judged(captures["four"], _even(captures["four"]))
    result = published(report, file="a.csv", signal="starter-current", seconds=0.1)
    assert result["firing_angles"] is None


@simulated_together
def _half_a_turn_on() -> dict[str, Scenario]:
    # 132/108 and 108/132 a turn away are 12 degrees apart, and events every turn fit both
    return {"132/108": draw(81_608_000, "V6-semi", family="c")}


def test_an_uneven_engine_half_a_turn_on_is_no_other_engine() -> None:
    capture = _half_a_turn_on()["132/108"]
    assert capture.scenario.sync is not None
    assert capture.scenario.sync.every_deg == 360
    report = analyse(capture.waveform, capture.scenario.setup())
    assert not _stops(report)
    assert capture.truth.low in report.candidates
