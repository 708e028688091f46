"""The plain reading: what each compression does to speed or voltage, without a fitted engine."""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from tests.traces.core.signals.measured import measured
from tests.traces.core.signals.teeth import COIL, SWITCH
from traces.core.analysis.any_signal import judge
from traces.core.findings.finding_texts import finding
from traces.core.humps.reference import Limits
from traces.core.report.cycle_uses import CycleUse, CycleUses
from traces.core.report.parts import ReportParts
from traces.core.report.results import Report
from traces.core.setup.analysis_setup import AnalysisSetup, SyncSetup, ToothWheel
from traces.core.signals.edges import edge_times_s
from traces.core.signals.plain_method import PlainMethod, or_plain, read_plainly
from traces.core.signals.plain_reading import PlainReading, read_teeth
from traces.core.signals.speed_profile import shown
from traces.core.signals.teeth_method import ToothCycles, tooth_cycles
from traces.core.signals.tooth_preparation import turning
from traces.core.signals.wheel import clearest_track
from traces.simulator.other_signals import tooth_capture

LIMITS = Limits(0.80, 0.88)
FOUR = FiringOrder.parse("1-3-4-2")
THREE = FiringOrder.parse("1-2-3")


def reading_of(*swings: float, cycles: int = 5, spread: float = 0.01) -> PlainReading:
    change = spread * np.cos(np.pi * np.arange(cycles))[:, None]
    per_cycle = np.array(swings) * (1 + change * np.cos(np.arange(len(swings))))
    return PlainReading(per_cycle, np.array(swings))


def crank_of(swings: list[float], cycles: int = 4, teeth: int = 36) -> ToothCycles:
    """Return teeth of a crank whose energy falls before each firing and rises after it."""
    n = len(swings)
    fine_deg = np.arange(0.0, 720.0, 0.25)
    energy = np.ones_like(fine_deg)
    for i, swing in enumerate(swings):
        off = (fine_deg - i * 720 / n + 360) % 720 - 360
        energy -= swing * np.exp(-((off / 30.0) ** 2))
    spent_s = 0.25 / np.sqrt(energy)
    durations_s = spent_s.reshape(2 * teeth, -1).sum(axis=1)
    widths_deg = np.full(2 * teeth, 360.0 / teeth)
    rows = shown(np.tile(durations_s, (cycles, 1)), widths_deg)
    return ToothCycles(rows, rows, widths_deg, 0.0)


class TestReading:
    @pytest.mark.parametrize("swings", [[0.5, 0.5, 0.5], [0.5, 0.25, 0.5], [0.4, 0.02, 0.4]])
    def test_swings_of_speed_squared_are_read_off_teeth(self, swings) -> None:
        reading = read_teeth(crank_of(swings), THREE, 0.0)
        assert reading is not None
        relative = reading.strengths / reading.strengths.max()
        assert relative == pytest.approx(np.array(swings) / max(swings), abs=0.03)

    @pytest.mark.parametrize(
        "order",
        [
            FiringOrder.parse("1-8-4-3-6-5-7-2"),
            FiringOrder.parse("1-2-3-4-5-6", (0, 150, 240, 390, 480, 630)),
            FiringOrder.parse("1-2"),
        ],
        ids=["eight", "uneven six", "two"],
    )
    def test_compressions_that_cover_each_other_are_not_read(self, order: FiringOrder) -> None:
        assert read_teeth(crank_of([0.3] * len(order)), order, 0.0) is None

    @pytest.mark.parametrize(
        ("swings", "pattern"),
        [
            ((1.0, 0.97, 1.02, 0.95), "even"),
            ((1.0, 0.97, 1.02, 0.82), "unclear"),
            ((1.0, 0.97, 1.25, 0.95), "unclear"),
            ((1.0, 0.97, 0.03, 0.95), "uneven"),
            ((1.0, 0.03, 0.03, 0.95), "uneven"),
            ((1.0, 0.97, 0.60, 0.95), "unclear"),
            ((1.0, 0.03, 0.04, 0.05), "unclear"),
            ((0.0, 0.0, 0.0, 0.0), "unclear"),
        ],
    )
    def test_only_clear_patterns_count(self, swings, pattern: str) -> None:
        assert reading_of(*swings).pattern(LIMITS) == pattern

    def test_cycles_must_be_several_and_alike(self) -> None:
        alike = (1.0, 0.97, 1.02, 0.95)
        assert reading_of(*alike, cycles=2).pattern(LIMITS) == "unclear"
        assert reading_of(*alike, spread=0.4).pattern(LIMITS) == "unclear"

    def test_an_even_pattern_is_borne_out_by_the_other_reading(self) -> None:
        alike = reading_of(1.0, 0.97, 1.02, 0.95)
        other = PlainReading(alike.per_cycle, np.array([1.0, 0.6, 1.0, 1.0]))
        assert other.pattern(LIMITS) == "unclear"


def taken_plainly(simulated, sensor):
    """Return the tooth cycles of a simulated capture and its plain method."""
    waveform, setup = tooth_capture(simulated, sensor)
    channel = waveform.channel(setup.current_channel)
    track = clearest_track(edge_times_s(waveform, channel), ToothWheel())
    found = turning(waveform, channel, track, setup)
    cycles = tooth_cycles(track, found)
    assert found.prepared is not None
    assert cycles is not None
    return found.prepared, cycles, read_plainly(found.prepared, cycles)


class TestOnSimulatedTeeth:
    @pytest.mark.parametrize("sensor", [COIL, SWITCH])
    def test_a_sound_engine_reads_even(self, cranked, sensor) -> None:
        _, _, plain = taken_plainly(cranked(81, "I4", "none"), sensor)
        assert plain is not None
        assert plain.reading.pattern(LIMITS) == "even"

    @pytest.mark.parametrize("family", ["a", "b"])
    def test_a_dead_cylinder_is_never_even_and_stands_at_its_place(self, cranked, family) -> None:
        simulated = cranked(82, "I4", "dead", family=family)
        prepared, _, plain = taken_plainly(simulated, SWITCH)
        assert plain is not None
        assert plain.reading.pattern(LIMITS) != "even"
        weakest = int(np.argmin(plain.reading.relative(LIMITS)))
        assert prepared.order.sequence[weakest] in simulated.truth.low


class TestWhoSpeaks:
    """The plain reading speaks only where the fitted method did not follow the recording."""

    @pytest.fixture
    def even(self, cranked):
        return taken_plainly(cranked(81, "I4", "none"), SWITCH)

    def spoken(self, even, *codes: str, verdict="not judged", reasons=()) -> str:
        prepared, cycles, _ = even
        told = [finding(code, **FIGURES) for code in codes]
        fitted = Report(verdict=verdict, method="teeth", findings=tuple(told), parts=_used(reasons))

        def judge_plain(plain: PlainMethod) -> Report:
            return Report(verdict="even", method=plain.name)

        return or_plain(fitted, [], prepared, cycles, judge_plain).method

    def test_where_the_fit_is_poor_or_its_figures_say_nothing(self, even) -> None:
        assert self.spoken(even, "poor-fit") == "plain"
        assert self.spoken(even, "unsteady") == "plain"
        assert self.spoken(even, "too-uncertain-even", verdict="even") == "plain"

    def test_nowhere_else(self, even) -> None:
        assert self.spoken(even, verdict="even") == "teeth"
        assert self.spoken(even, verdict="uneven") == "teeth"
        assert self.spoken(even, "poor-fit", "engine-caught") == "teeth"
        assert self.spoken(even, "sync-mismatch") == "teeth"

    def test_not_where_cycles_of_another_kind_were_left_out(self, even) -> None:
        """A valve that sticks now and then leaves cycles that all look well."""
        used = [None] * 3
        other = ["shape"] * 2
        assert self.spoken(even, "poor-fit", reasons=used + other) == "teeth"
        assert self.spoken(even, "poor-fit", reasons=used + other[:1]) == "plain"

    def test_what_it_saw_is_told_beside_a_refusal(self, cranked) -> None:
        prepared, cycles, _ = taken_plainly(cranked(82, "I4", "dead"), SWITCH)
        used = [None] * 3
        other = ["shape"] * 3
        fitted = Report(
            verdict="not judged",
            findings=(finding("poor-fit", **FIGURES),),
            parts=_used(used + other),
        )
        told = or_plain(fitted, [], prepared, cycles, lambda _: fitted)
        assert [f.code for f in told.findings] == ["poor-fit", "plain-reading"]
        assert told.parts.plain is not None
        assert told.parts.plain.pattern == "uneven"
        assert "1 of 4" in told.findings[1].message


def _used(reasons) -> ReportParts:
    """Cycles that are used, or left out for a reason."""
    return ReportParts(cycle_uses=CycleUses(tuple(CycleUse(0.0, 0.0, r) for r in reasons)))


FIGURES: dict[str, Any] = {
    "share": 90,
    "why": "",
    "which": "position 1",
    "low": 60,
    "high": 120,
    "at": "1 s",
    "cycles": 4,
}


class TestMeasured:
    """Measured logs and tooth times; what they must show: the README beside them."""

    @staticmethod
    @cache
    def by_cylinder(real, bit: int | None) -> tuple[Report, dict[int, float]]:
        sync = None if bit is None else SyncSetup("Injectors", bit + 1, "injector", bit=bit)
        setup = AnalysisSetup(FOUR, "VBatt", 1000.0, sync, signal="battery-voltage")
        report = judge(measured(real / "i4-battery-voltage-plugs-in-long.csv"), setup)
        order = FOUR.starting_at(bit + 1) if bit is not None else FOUR
        figures = [e.relative for e in report.estimates]
        return report, dict(zip(order.sequence, figures, strict=True))

    def test_figures_do_not_hang_on_which_cylinder_is_the_sync(self, real) -> None:
        """Highest less lowest between injector events: 0.89, 0.85, 0.90, 0.90 V (README)."""
        found = [self.by_cylinder(real, bit) for bit in (0, 1, 2, 3)]
        assert [(r.verdict, r.method) for r, _ in found] == [("even", "plain")] * 4
        for _, figures in found[1:]:
            assert figures == pytest.approx(found[0][1], abs=0.01)
        assert min(found[0][1].values()) > 0.93
        assert all("plain-reading" in {f.code for f in r.findings} for r, _ in found)

    @pytest.mark.parametrize("bit", [0, 1, 2, 3, None])
    def test_whichever_is_the_sync_no_cylinder_is_named(self, real, bit) -> None:
        report, _ = self.by_cylinder(real, bit)
        assert report.candidates == ((),)
        assert not {"comes-and-goes", "low-at-first"} & {f.code for f in report.findings}
        # four cycles between five injector events of one cylinder, by the file's own times
        assert report.cranking_rpm == pytest.approx(309.4, abs=1)

    def test_without_a_sync_they_are_the_same_too(self, real) -> None:
        report, figures = self.by_cylinder(real, None)
        assert report.verdict == "even"
        _, marked = self.by_cylinder(real, 0)
        assert sorted(figures.values()) == pytest.approx(sorted(marked.values()), abs=0.01)

    def test_two_large_accelerations_and_a_weak_one_are_told(self, real) -> None:
        setup = AnalysisSetup(THREE, "edges", 1000.0, signal="crank-teeth")
        report = judge(measured(real / "i3-crank-teeth-plugs-in.txt"), setup)
        assert report.verdict == "not judged"
        told = [f for f in report.findings if f.code == "plain-reading"]
        assert [f.severity for f in told] == ["note"]
        assert "1 of 3" in told[0].message
        assert report.parts.plain is not None
        weak, *strong = sorted(report.parts.plain.relative)
        assert weak < 0.15
        assert min(strong) > 0.85

    def test_over_five_cycles_the_pattern_is_a_verdict_of_lower_trust(self, real) -> None:
        """Two accelerations to about 500 rpm, the third from 182 to 189 rpm (README)."""
        waveform = measured(real / "i3-36-2-2-plugs-in-long.txt")
        setup = AnalysisSetup(THREE, waveform.channels[0].name, 1000.0, signal="crank-teeth")
        report = judge(waveform, setup)
        assert report.verdict == "uneven"
        assert report.method == "teeth"
        assert {"lower-trust", "plain-reading"} <= {f.code for f in report.findings}
        assert report.parts.plain is not None
        weak, *strong = sorted(report.parts.plain.relative)
        assert weak < 0.15
        assert min(strong) > 0.85
        assert sorted(e.call for e in report.estimates) == ["sound", "sound", "suspect"]
        assert report.cranking_rpm == pytest.approx(253.8, abs=1)

    @pytest.mark.parametrize(
        "name", ["v6-36-2-1-1-plugs-in-falling.txt", "v6-36-2-1-1-plugs-in-events.csv"]
    )
    def test_six_alike_are_even_at_lower_trust(self, real, name: str) -> None:
        waveform = measured(real / name)
        six = FiringOrder.parse("1-2-3-4-5-6")
        setup = AnalysisSetup(six, waveform.channels[0].name, 1000.0, signal="crank-teeth")
        report = judge(waveform, setup)
        assert (report.verdict, report.method) == ("even", "plain")
        assert report.cranking_rpm == pytest.approx(166, abs=2)
        assert [e.relative for e in report.estimates] == pytest.approx([1.0] * 6, abs=0.08)

    def test_nothing_is_read_where_nothing_is_compressed(self, real) -> None:
        setup = AnalysisSetup(THREE, "edges", 1000.0, signal="crank-teeth")
        report = judge(measured(real / "i3-crank-teeth-plugs-out.txt"), setup)
        assert "plain-reading" not in {f.code for f in report.findings}
        assert replace(report, findings=()).parts.plain is None
