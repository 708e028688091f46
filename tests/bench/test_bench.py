"""The bench: what is drawn, what counts as right, tables between their marks."""

from dataclasses import replace
from itertools import chain
from pathlib import Path

import numpy as np
import pytest

from bench.balance import read, write
from bench.captures import CaptureBatch, batches
from bench.cost import Cost
from bench.document import filled, plot
from bench.running import METHODS, judged
from bench.scoring import ScoredOutcome, outcome, score
from bench.tables import tables
from traces.core.report.results import Estimate, Report
from traces.simulator.scenarios import FLAWS, HARD, LAYOUTS, draw
from traces.simulator.simulate import simulate

PAGE = Path(__file__).parents[2] / "docs" / "balance.md"
TRAP_TABLES = {"traps", "banks", "moved"}
COST = Cost("5 s at 20 kHz", 100_000, 0.03, 0.06, 0.15, 90.0, 99.0)


def scenarios(each, **kinds):
    return list(chain.from_iterable(b.scenarios for b in batches(each, **kinds)))


@pytest.fixture(scope="module")
def drawn():
    return batches(16)


def test_good_captures_are_over_four_hundred_in_all_layouts_and_families(drawn):
    parts = {part: [b for b in drawn if b.part == part] for part in ("good", "flawed")}
    good = list(chain.from_iterable(b.scenarios for b in parts["good"]))
    assert len(good) >= 400
    assert {(s.layout, s.family) for s in good} == {(y, f) for y in LAYOUTS for f in "abc"}
    assert not any(s.flaws.names or s.hard for s in good)
    flawed = list(chain.from_iterable(b.scenarios for b in parts["flawed"]))
    assert {name for s in flawed for name in s.flaws.names} == set(FLAWS) - {"none"}


def test_hard_captures_are_of_every_kind(drawn):
    hard = [s for b in drawn if b.part == "hard" for s in b.scenarios]
    assert {kind: sum(s.hard == kind for s in hard) for kind in HARD} == dict.fromkeys(HARD, 8)


def test_what_is_held_out_shares_no_seed():
    # `each` counts up from a first seed a hundred apart: 16 of them never meet the next
    assert not {s.seed for s in scenarios(2)} & {s.seed for s in scenarios(2, held_out=True)}


def test_batches_keep_one_family_and_do_not_hang_on_jobs(drawn):
    for batch in drawn:
        assert len({s.family for s in batch.scenarios}) == 1
        assert len(batch.scenarios) <= 16


@pytest.fixture(scope="module")
def capture():
    scenario = draw(901, "I4", "one", family="a", sync="720")
    return simulate(replace(scenario, rate_hz=1000.0, crank_s=2.0))


def estimate(capture, cylinder, off=0.0):
    relative = capture.truth.relative_sound[cylinder - 1] + off
    return Estimate(
        position=cylinder,
        cylinder=cylinder,
        relative=relative,
        low=relative - 0.05,
        high=relative + 0.05,
        call="sound",
    )


def test_errors_and_intervals_are_against_the_truth(capture):
    assert capture.truth.low == (3,)
    estimates = tuple(estimate(capture, c, off) for c, off in {1: 0.0, 2: 0.03, 3: -0.2}.items())
    report = Report("uneven", estimates, candidates=((3,), (1,)), method="twin")
    done = outcome(capture, report)
    assert done.right
    assert done.errors == pytest.approx((0, 0.03, -0.2))
    assert done.inside == (True, True, False)
    found = score([done])
    assert found.rms == pytest.approx(np.sqrt((0.03**2 + 0.2**2) / 3))
    assert found.width == pytest.approx(0.10)
    assert found.inside == pytest.approx(2 / 3)
    assert found.largest == pytest.approx(0.2)
    assert not outcome(capture, replace(report, candidates=((1,),))).right


def test_a_low_figure_left_open_is_neither_right_nor_wrong(capture):
    figures = {1: 0.0, 2: 0.0, 3: 0.02, 4: 0.0}
    estimates = tuple(estimate(capture, c, off) for c, off in figures.items())
    softened = tuple(replace(e, call="watch") if e.cylinder == 3 else e for e in estimates)
    report = Report("even", softened, ((),), cylinders_known=True, method="twin")
    done = outcome(capture, report)
    assert (done.right, done.left_open) == (False, True)
    found = score([done, made()])
    assert (found.left_open, found.wrong, found.right) == (1, (), 1.0)
    # one that is open excuses no other that is named, nor a figure that is simply not low
    assert not outcome(capture, replace(report, candidates=((1,),))).left_open
    assert not outcome(capture, replace(report, estimates=estimates)).left_open


def made(**changes):
    plain = ScoredOutcome("twin", "good", "", "a", "I4", "none", 1, 0.1, judged=True, right=True)
    return replace(plain, **changes)


def test_false_calls_are_counted_on_even_engines_alone():
    outcomes = [
        made(false_call=True, right=False),
        made(),
        made(fault="one", right=False),
        made(judged=False, right=None, stops=("no-signal",)),
    ]
    found = score(outcomes)
    assert (found.captures, found.judged, found.sound, found.false_calls) == (4, 3, 2, 1)
    assert found.refused == pytest.approx(1 / 4)
    assert found.right == pytest.approx(1 / 3)
    assert len(found.wrong) == 2


def test_outcomes_come_back_from_their_file(tmp_path):
    outcomes = [
        made(truths=(1.0,), errors=(0.1,), widths=(0.2,), inside=(True,)),
        made(judged=False, right=None, stops=("clipped", "unsteady")),
    ]
    write(tmp_path / "some" / "bench.json", outcomes, [COST])
    assert read(tmp_path / "some" / "bench.json") == (outcomes, [COST])


def test_tables_show_both_methods_and_what_was_refused():
    outcomes = [
        made(method=method.name, errors=(0.04,), truths=(1.0,), widths=(0.1,), inside=(True,))
        for method in METHODS
    ]
    outcomes += [
        made(part="flawed", kind="drift", judged=False, stops=("unsteady",), right=None),
        made(part="hard", kind="cold", fault="one", errors=(0.02,)),
    ]
    told = tables(outcomes, [COST])
    assert "| a | hump method | 1 of 1 | 100.0 % | 0 | 4.0 |" in told["good"]
    assert "| a | twin | 1 of 1 | 100.0 % | 0 | 4.0 |" in told["good"]
    assert "| drift | yes | 0 of 0 | 0 of 1 | unsteady 1 |" in told["flawed"]
    assert "| cold | 1 of 1 | 100 % | – | 2.0 | – |" in told["hard"]
    assert "| 5 s at 20 kHz | 0.030 s | 0.060 s | 0.150 s | 7.0 | 1.10 |" in told["cost"]
    assert "refusals" not in told


def test_tables_stand_between_their_marks_and_nothing_else_moves():
    page = (
        "Before.\n\n<!-- bench: good -->\nold\n<!-- end -->\n\n<!-- bench: hard -->\n<!-- end -->\n"
    )
    text, missing = filled(page, {"good": "| new |"})
    assert text == page.replace("old", "\n| new |\n")
    assert missing == ["hard"]
    assert filled(text, {"good": "| new |"})[0] == text
    assert filled(page, {"hard": "| h |"})[0].endswith(
        "<!-- bench: hard -->\n\n| h |\n\n<!-- end -->\n"
    )


def test_the_page_asks_for_tables_that_there_are():
    outcomes = [made(part="good"), made(judged=False, stops=("x",)), made(part="flawed", kind="y")]
    names = set(tables([*outcomes, made(part="hard", kind="z")], [COST])) | TRAP_TABLES
    _, missing = filled(PAGE.read_text(encoding="utf-8"), {})
    assert {name.removeprefix("held-out ") for name in missing} <= names
    assert "good" in missing


def test_plots_show_a_mark_a_cylinder(tmp_path):
    plot(tmp_path, [made(truths=(1.0, 0.5), errors=(0.0, 0.1))])
    assert (tmp_path / "balance-a-twin.svg").read_text().count("<circle") == 2
    assert (tmp_path / "balance-b-humps.svg").read_text().count("<circle") == 0


def test_two_processes_find_what_one_finds():
    cuts = [replace(draw(s, "I6", family="a"), rate_hz=1000.0, crank_s=2.4) for s in (11, 12)]
    some = [CaptureBatch("good", tuple(cuts[:1])), CaptureBatch("good", tuple(cuts[1:]))]

    def found(jobs):
        return [replace(o, seconds=0.0) for o in chain.from_iterable(judged(some, jobs))]

    alone = found(1)
    assert found(2) == alone
    assert [(o.seed, o.method) for o in alone] == [
        (seed, method.name) for seed in (11, 12) for method in METHODS
    ]
