"""Traps: what is drawn for each, what counts as wrong in silence, and the tables."""

from dataclasses import replace

import numpy as np
import pytest

from bench import trap_scoring
from bench.trap_scenarios import FAMILIES, TRAPS, Trap
from bench.trap_scoring import Caught, backwards, caught
from bench.traps import chunks, read, silent, tables, write
from traces.core.findings.findings import Finding
from traces.core.report.bank_results import BankDifference
from traces.core.report.results import Estimate, Report
from traces.simulator.scenarios import draw
from traces.simulator.simulate import simulate


@pytest.fixture(scope="module")
def drawn():
    names = tuple(TRAPS)
    return {
        (name, n % 3): TRAPS[name].make(7000 + n, FAMILIES[n % 3])
        for name in names
        for n in range(6)
    }


def of(drawn, name):
    return [scenario for (trap, _), scenario in drawn.items() if trap == name]


def test_every_trap_is_drawn_in_every_family(drawn):
    for name in TRAPS:
        assert {s.family for s in of(drawn, name)} == set(FAMILIES)


def test_events_of_unknown_angle_are_entered_without_it(drawn):
    for kind, event in (("petrol injector", "injector"), ("cam edge", "cam")):
        unknown = [s.setup().sync for s in of(drawn, f"{kind}, angle unknown")]
        assert {(s.event, s.angle_deg) for s in unknown} == {(event, None)}
        for scenario in of(drawn, f"{kind}, angle typed"):
            assert abs(scenario.setup().sync.angle_deg - scenario.sync.angle_deg) <= 8


def test_set_ups_are_wrong_where_the_trap_says_so(drawn):
    for scenario in of(drawn, "set up 720, found 360"):
        assert (scenario.setup().sync.every_deg, scenario.sync.every_deg) == (720, 360)
    for scenario in of(drawn, "angles forgotten") + of(drawn, "angles of a twin forgotten"):
        assert not scenario.engine.firing_order.is_even
        assert scenario.setup().firing_order.is_even
    for scenario in of(drawn, "angles entered, engine even"):
        assert scenario.engine.firing_order.is_even
        assert not scenario.setup().firing_order.is_even
    for scenario in of(drawn, "number of cylinders wrong"):
        assert len(scenario.setup().firing_order) != len(scenario.engine.firing_order)
    for scenario in of(drawn, "scale ten times wrong"):
        assert scenario.setup().mv_per_a / scenario.clamp.mv_per_a in {0.1, 10.0}


def test_engines_have_what_the_trap_is_about(drawn):
    for name, range_hz in (("6 to 10", (6, 10)), ("10 to 15", (10, 15)), ("15 to 20", (15, 20))):
        for scenario in of(drawn, f"two-mass flywheel, {name} Hz"):
            assert range_hz[0] <= scenario.engine.two_mass.frequency_hz <= range_hz[1]
    for scenario in of(drawn, "pump lobes, 5 to 20 J"):
        pump = scenario.engine.pump
        assert 5 <= 4 * pump.peak_nm / pump.lobes <= 20
        assert len(scenario.engine.firing_order) % pump.lobes or pump.lobes == 5
    assert all(
        s.starter.kind == "series" or s.starter.wound_share == 1 for s in of(drawn, "wound field")
    )
    late = [c for s in of(drawn, "bank 18 degrees late or early") for c in s.engine.cylinders]
    assert {c.late_closing_deg for c in late} == {0.0, 18.0, -18.0}


def plain(**changes):
    return replace(Caught("x", "a", "I4", "one", 1, judged=True, named=True), **changes)


def test_silent_is_a_wrong_set_without_a_word_about_it():
    assert plain().silent
    assert not plain(judged=False).silent
    assert not plain(right=True).silent
    assert not plain(left_open=True).silent
    assert not plain(warned=True).silent
    # candidates that do not hold the truth are as wrong as a number
    assert plain(named=False).silent


@pytest.mark.parametrize(
    ("truth", "called", "is_silent"),
    [(0.08, True, False), (0.08, False, True), (0.045, False, False), (0.01, True, True)],
)
def test_banks_are_missed_or_called_falsely(truth, called, is_silent):
    found = plain(right=True, bank_truth=truth, bank_called=called)
    assert found.silent == is_silent


@pytest.fixture(scope="module")
def capture():
    return simulate(replace(draw(901, "I4", "one", sync="720"), rate_hz=1000.0, crank_s=2.0))


def report(capture, said, *codes):
    truth = capture.truth.relative_sound
    estimates = tuple(
        Estimate(n, n, v, v - 0.05, v + 0.05, "suspect" if n in said else "sound")
        for n, v in enumerate(truth, 1)
    )
    findings = tuple(Finding(code, severity) for code, severity in codes)
    return Report(
        "uneven" if said else "even", estimates, (said,), cylinders_known=True, findings=findings
    )


def judged_as(monkeypatch, capture, told, trap):
    monkeypatch.setattr(trap_scoring, "judge", lambda *_: told)
    return caught("t", trap, capture)


TRAP = Trap(lambda seed, family: draw(seed, family=family), ("angle",))


def test_a_report_is_held_against_the_truth_and_its_own_warnings(monkeypatch, capture):
    assert capture.truth.low == (3,)
    right = judged_as(monkeypatch, capture, report(capture, (3,)), TRAP)
    assert (right.right, right.silent, right.said) == (True, False, ((3,),))
    assert right.errors == (0, 0, 0, 0)
    assert judged_as(monkeypatch, capture, report(capture, (1,)), TRAP).silent
    # a note, or a warning about something else, does not count
    for other in (("sync-angle-unknown", "note"), ("drift", "warn")):
        assert judged_as(monkeypatch, capture, report(capture, (1,), other), TRAP).silent
    for code in ("angles-doubted", "too-uncertain"):
        told = report(capture, (1,), (code, "warn"))
        assert not judged_as(monkeypatch, capture, told, TRAP).silent
    told = replace(report(capture, (1,), ("poor-fit", "stop")), verdict="not judged")
    refused = judged_as(monkeypatch, capture, told, TRAP)
    assert (refused.judged, refused.codes, refused.silent) == (False, ("poor-fit",), False)


def test_banks_are_held_against_their_means_without_a_weak_cylinder(monkeypatch, capture):
    of_two = replace(capture.scenario, banks=((1, 2), (3, 4)))
    two_banks = replace(capture, scenario=of_two)
    difference = BankDifference(9.0, 5.0, 13.0, (3, 4), "uneven")
    told = replace(report(capture, (3,)), bank_difference=difference)
    found = judged_as(monkeypatch, two_banks, told, replace(TRAP, kind="bank"))
    first, second, _, fourth = capture.truth.relative_sound
    assert found.bank_truth == pytest.approx(abs((first + second) / 2 - fourth))
    assert found.bank_called


def test_backwards_turns_every_channel_and_nothing_else(capture):
    turned = backwards(capture.waveform)
    assert turned.rate_hz == capture.waveform.rate_hz
    for one, other in zip(turned.channels, capture.waveform.channels, strict=True):
        assert np.array_equal(one.values, other.values[::-1])


def test_a_moved_sync_gives_the_same_figures_as_far_as_the_method_does(monkeypatch, capture):
    answers = iter([report(capture, (3,)), report(capture, (3,)), report(capture, (1,))])
    asked = []

    def judge(waveform, setup):
        asked.append(setup.sync.cylinder)
        return next(answers)

    monkeypatch.setattr(trap_scoring, "judge", judge)
    found = caught("t", replace(TRAP, kind="moved"), capture)
    assert len(set(asked)) == 3
    assert (found.moved, found.right, found.silent) == (0.0, False, True)


def test_seeds_held_out_are_others_and_chunks_keep_a_family():
    names = list(TRAPS)[:2]
    first, other = (chunks(names, 3, held_out=held_out) for held_out in (False, True))
    seeds = [{s.seed for c in some for s in c.scenarios} for some in (first, other)]
    assert len(seeds[0]) == 6
    assert not seeds[0] & seeds[1]
    assert all(len({s.family for s in c.scenarios}) == 1 for c in first)
    (alone,) = chunks(names[:1], 3, seed=40_000_001)
    assert [s.seed for s in alone.scenarios] == [40_000_001]


def test_tables_count_what_became_of_the_captures(tmp_path):
    name, late, sync = (
        "angles forgotten",
        "bank 18 degrees late or early",
        "sync on another cylinder",
    )
    found = [
        plain(trap=name, said=((1,),), truth=(2,), errors=(0.1,), inside=(False,)),
        plain(trap=name, right=True, errors=(0.0,), inside=(True,)),
        plain(trap=name, judged=False, codes=("angles-unlikely",)),
        plain(trap=late, right=True, bank_truth=0.09, bank_called=True),
        plain(trap=sync, right=True, moved=0.012),
    ]
    made = tables(found)
    assert (
        f"| {name} | 3 | 1 | 2 | 0 | 1 | 0 | 0 | 7.1 | 50 % | 1 | angles-unlikely 1 |"
        in made["traps"]
    )
    assert "| all | 5 | 1 | 4 |" in made["traps"]
    assert f"| {late} | 1 | 1 | 9.0 |" in made["banks"]
    assert "| 1 | 1.20 | 1.20 | 0 |" in made["moved"]
    assert silent(found).startswith("Wrong in silence: 1 of 5")
    write(tmp_path / "deep" / "traps.json", found)
    assert read(tmp_path / "deep" / "traps.json") == found
