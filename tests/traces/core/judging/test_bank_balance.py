"""Bank against bank: a bank low as a whole is told, a low cylinder of it is not."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.traces.simulated import simulated_together
from traces.core.analysis.balance_files import text_of
from traces.core.humps.humps import HumpMethod
from traces.core.humps.reference import Limits
from traces.core.judging.bank_balance import CylinderFigures, bank_findings, compare_banks
from traces.core.judging.pipeline import analyse
from traces.core.pooling.bank_pooling import pool_banks
from traces.core.preparation.preparation import prepare
from traces.core.report.bank_results import BankCall, BankDifference, BankMean
from traces.core.report.publishing import published
from traces.core.report.results import Report
from traces.core.twin.cycles import folded
from traces.core.twin.errors import method_correlation, method_errors
from traces.core.twin.method import TwinMethod, fitted_twin
from traces.simulator import faults
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw

LIMITS = Limits(0.80, 0.88)
SIX = ((1, 3, 5), (2, 4, 6))
FOUR = ((1, 3), (2, 4))


def figures(*relative: float, error: float = 0.01, **changes: Any) -> CylinderFigures:
    """Return figures by number, in eight cycles that are all the same."""
    n = len(relative)
    values = np.array(relative)
    given = {
        "numbers": tuple(range(1, n + 1)),
        "relative": values,
        "per_cycle": np.tile(values, (8, 1)),
        "covariance": error**2 * np.eye(n),
    }
    return CylinderFigures(**{**given, **changes})


def codes(balance, suspects: tuple[int, ...] = ()) -> list[str]:
    return [f.code for f in bank_findings(balance, suspects)]


def test_a_bank_low_as_a_whole_is_uneven() -> None:
    found = compare_banks(SIX, figures(1.01, 0.90, 1.00, 0.88, 0.99, 0.86), LIMITS, 0.05)
    difference = found.difference
    assert [round(b.mean, 6) for b in found.banks] == [1.0, 0.88]
    assert difference.points == pytest.approx(12.0)
    # errors of single cylinders average out: 1.96 * 0.01 * sqrt(1/3 + 1/3)
    assert difference.high - difference.points == pytest.approx(100 * 1.96 * 0.01 * (2 / 3) ** 0.5)
    assert (difference.weaker, difference.call) == ((2, 4, 6), "uneven")
    assert codes(found) == ["bank-uneven"]


def test_what_is_wrong_with_a_whole_bank_does_not_average_out() -> None:
    shared = np.kron(np.eye(2), np.ones((3, 3)))
    places = [0, 3, 1, 4, 2, 5]
    covariance = 0.02**2 * shared[np.ix_(places, places)]
    found = compare_banks(SIX, figures(*[1.0] * 6, covariance=covariance), LIMITS, 0.05)
    half = found.difference.high - found.difference.points
    assert half == pytest.approx(100 * 1.96 * 0.02 * 2**0.5)


def test_cycles_that_differ_widen_the_interval() -> None:
    steady = figures(1, 1, 1, 1)
    swing = np.array([0.04, -0.04] * 4)[:, None] * np.array([1, -1, 1, -1])
    shaky = replace(steady, per_cycle=steady.per_cycle + swing)
    narrow, wide = (compare_banks(FOUR, f, LIMITS, 0.05).difference for f in (steady, shaky))
    assert wide.high - wide.low > 2 * (narrow.high - narrow.low)


@pytest.mark.parametrize(
    ("banks", "relative"),
    [
        (SIX, (1.0, 0.45, 1.0, 1.0, 1.01, 0.99)),
        (SIX, (1.0, 0.84, 1.0, 1.0, 1.01, 0.99)),
        (SIX, (1.26, 1.0, 1.0, 1.0, 0.99, 1.0)),
        (FOUR, (1.0, 0.30, 1.0, 0.97)),
        (FOUR, (1.01, 0.92, 1.00, 1.0)),
        (FOUR, (1.25, 1.0, 1.0, 1.0)),
    ],
)
def test_a_single_cylinder_is_no_bank(banks, relative) -> None:
    found = compare_banks(banks, figures(*relative), LIMITS, 0.05)
    assert found.difference.call == "even"
    assert codes(found) == []


def test_two_cylinders_do_not_tell_a_bank_from_one_of_them() -> None:
    found = compare_banks(FOUR, figures(1.03, 0.89, 1.02, 0.92), LIMITS, 0.05)
    assert found.difference.points == pytest.approx(12.0)
    assert (found.difference.call, codes(found)) == ("uneven", ["bank-uneven"])
    found = compare_banks(FOUR, figures(1.02, 0.90, 1.01, 1.01), LIMITS, 0.05)
    assert (found.difference.call, codes(found)) == ("even", ["bank-uncertain"])


def test_a_late_bank_with_a_dead_cylinder_in_the_other_is_the_weaker_one() -> None:
    found = compare_banks(SIX, figures(0.2, 0.90, 1.02, 0.88, 1.00, 0.89), LIMITS, 0.05)
    assert found.left_out == (1,)
    assert (found.difference.weaker, found.difference.call) == ((2, 4, 6), "uneven")
    assert found.difference.points == pytest.approx(12.0)


def test_a_difference_the_trace_does_not_carry_is_told_as_such() -> None:
    unsure = compare_banks(SIX, figures(1.0, 0.93, 1.0, 0.93, 1.0, 0.93, error=0.12), LIMITS, 0.05)
    assert unsure.difference.call == "even"
    assert codes(unsure) == ["bank-uncertain"]
    # beside a weak cylinder too
    beside = compare_banks(SIX, figures(1.0, 0.4, 1.0, 0.96, 1.0, 0.96, error=0.07), LIMITS, 0.05)
    assert (beside.left_out, beside.difference.call) == ((2,), "even")
    assert codes(beside) == ["bank-uncertain"]
    alike = compare_banks(SIX, figures(*[1.0] * 6, error=0.02), LIMITS, 0.05)
    assert codes(alike) == []


@pytest.mark.parametrize(
    ("count", "points", "call", "said"),
    [
        (2, 3.8, "even", []),
        (2, 4.4, "even", ["bank-uncertain"]),
        (2, 4.8, "uneven", ["bank-uneven"]),
        (4, 3.8, "even", []),
        (4, 4.4, "even", ["bank-uncertain"]),
        (4, 4.8, "uneven", ["bank-uneven"]),
        (5, 4.1, "even", []),
        (5, 4.8, "even", ["bank-uncertain"]),
        (5, 5.2, "uneven", ["bank-uneven"]),
    ],
)
def test_the_limit_follows_how_many_share_a_bank(
    count: int, points: float, call: str, said: list[str]
) -> None:
    banks = tuple(range(1, count + 1)), tuple(range(count + 1, 2 * count + 1))
    low = 1.0 - points / 100
    found = compare_banks(banks, figures(*[1.0] * count, *[low] * count), LIMITS, 0.05)
    assert (found.difference.call, codes(found)) == (call, said)


@pytest.mark.parametrize("count", [3, 5])
@pytest.mark.parametrize(
    ("points", "half", "call"),
    [(5.7, 5.8, "even"), (5.7, 5.6, "uneven"), (8.0, 8.2, "even"), (8.0, 7.8, "uneven")],
)
def test_an_interval_that_holds_0_is_not_called(
    count: int, points: float, half: float, call: str
) -> None:
    banks = tuple(range(1, count + 1)), tuple(range(count + 1, 2 * count + 1))
    values = [1.0] * count + [1.0 - points / 100] * count
    error = half / 196 / (2 / count) ** 0.5
    found = compare_banks(banks, figures(*values, error=error), LIMITS, 0.05)
    assert found.difference.high - found.difference.points == pytest.approx(half)
    assert found.difference.call == call
    assert codes(found) == (["bank-uneven"] if call == "uneven" else ["bank-uncertain"])


def test_beside_a_cylinder_that_stands_out_more_is_asked_and_doubt_begins_as_early() -> None:
    """A bank 6 or 9 points low; the other has a cylinder high by liquid."""
    for points, call, said in ((6, "even", "bank-uncertain"), (9, "uneven", "bank-uneven")):
        low = [1.0 - points / 100] * 4
        banks = (1, 2, 3, 4), (5, 6, 7, 8)
        found = compare_banks(banks, figures(*low, 1.0, 1.0, 1.0, 1.15), LIMITS, 0.05)
        assert found.left_out == (8,)
        assert (found.difference.call, codes(found)) == (call, [said])


@pytest.mark.parametrize(("count", "call"), [(2, "even"), (4, "uneven")])
def test_the_fewer_cylinders_the_more_alike_they_must_be(count: int, call: str) -> None:
    """The same scatter and difference: 2.3 standard errors of two against two, 3.5 of four."""
    scatter = np.tile([0.02, -0.02], count)
    values = np.concatenate([np.ones(count), np.full(count, 0.935)]) + scatter
    banks = tuple(range(1, count + 1)), tuple(range(count + 1, 2 * count + 1))
    found = compare_banks(banks, figures(*values), LIMITS, 0.05)
    assert found.difference.call == call


def test_cylinders_that_scatter_are_no_bank() -> None:
    found = compare_banks(SIX, figures(1.06, 0.93, 1.06, 0.93, 0.96, 1.01), LIMITS, 0.05)
    assert found.difference.points == pytest.approx(100 * (3.08 - 2.87) / 3)
    assert (found.difference.call, codes(found)) == ("even", ["bank-uncertain"])


@pytest.mark.parametrize(
    ("weakers", "points", "call"),
    [((2, 2, 2), 11.0, "uneven"), ((2, 1, 2), 10 / 3, "even"), ((1, 2), 0.5, "even")],
)
def test_several_captures_tell_of_their_banks_together(weakers, points: float, call: str) -> None:
    size = (10.0, 11.0, 12.0) if len(weakers) == 3 else (1.0, 2.0)
    if weakers == (2, 1, 2):
        size = (6.0, 1.0, 5.0)
    reports = [_report_of(SIX[w - 1], p) for w, p in zip(weakers, size, strict=True)]
    pooled = pool_banks([Report(verdict="even"), *reports])
    assert pooled is not None
    assert pooled.points == pytest.approx(points)
    # what the method gets wrong does not shrink: each capture's own half is 4 points
    assert pooled.high - pooled.points >= 4.0
    assert pooled.call == call
    assert pool_banks(reports[:1]) is None


def _report_of(weaker: tuple[int, ...], points: float) -> Report:
    call: BankCall = "uneven" if points >= 5.5 else "even"
    return Report(
        verdict="even",
        banks=tuple(BankMean(bank, 1.0, 0.98, 1.02) for bank in SIX),
        bank_difference=BankDifference(points, points - 4, points + 4, weaker, call),
    )


def test_uneven_firing_asks_for_the_whole_limit() -> None:
    """Wrong angles make a bank-like pattern too."""
    even = figures(*[1.0] * 3, *[0.952] * 3)
    banks = (1, 2, 3), (4, 5, 6)
    one, other = (
        compare_banks(banks, replace(even, is_even_fire=is_even), LIMITS, 0.05)
        for is_even in (True, False)
    )
    assert (one.difference.call, codes(one)) == ("uneven", ["bank-uneven"])
    assert (other.difference.call, codes(other)) == ("even", ["bank-uncertain"])


def test_banks_of_one_cylinder_are_that_cylinder() -> None:
    sound = compare_banks(((1,), (2,)), figures(1.02, 0.95), LIMITS, 0.05)
    assert (sound.difference.call, codes(sound)) == ("even", [])
    weak = compare_banks(((1,), (2,)), figures(1.0, 0.6), LIMITS, 0.05)
    assert weak.difference.call == "uneven"
    # the cylinder is named already
    assert codes(weak, (2,)) == []


def test_the_lowest_of_several_banks_is_held_against_all_others() -> None:
    rows = ((1, 2), (3, 4), (5, 6))
    found = compare_banks(rows, figures(1.0, 1.0, 1.02, 1.02, 0.9, 0.9), LIMITS, 0.05)
    assert found.difference.weaker == (5, 6)
    assert found.difference.points == pytest.approx(11.0)


def _late(scenario: Scenario, late_deg: float) -> Scenario:
    engine = scenario.engine
    subject = faults.Subject(engine.firing_order, engine.cylinders, (), scenario.banks, 0.5)
    cylinders, _ = faults.late_bank(subject, scenario.banks[1], late_deg)
    return replace(scenario, engine=replace(engine, cylinders=cylinders))


@pytest.fixture(scope="module")
@simulated_together
def captures() -> dict[tuple[str, str], Scenario]:
    """Return sound engines, and the same with one tooth late on the second bank."""
    kinds = (("V8", 25000), ("F6", 25001), ("V6-semi", 25010))
    sound = [
        replace(draw(seed, layout, "none", sync="720"), rate_hz=1000.0, crank_s=3.2)
        for layout, seed in kinds
    ]
    names = [layout for layout, _ in kinds]
    late = [_late(s, 18.0) for s in sound]
    return {(name, "sound"): s for name, s in zip(names, sound, strict=True)} | {
        (name, "late"): s for name, s in zip(names, late, strict=True)
    }


@pytest.mark.parametrize("layout", ["V8", "F6", "V6-semi"])
def test_one_tooth_late_on_one_bank_is_called(captures, layout) -> None:
    late, sound = captures[layout, "late"], captures[layout, "sound"]
    report = analyse(late.waveform, late.scenario.setup())
    difference = report.bank_difference
    assert difference is not None
    assert (difference.call, difference.weaker) == ("uneven", late.scenario.banks[1])
    assert "bank-uneven" in {f.code for f in report.findings}
    means = [
        np.mean([late.truth.relative_sound[c - 1] for c in bank]) for bank in late.scenario.banks
    ]
    assert difference.low < 100 * (means[0] - means[1]) < difference.high
    assert Report.from_json(report.to_json()).bank_difference is not None
    result = published(report, file="x", signal="starter-current", seconds=0.0)
    assert "UNEVEN" in text_of(result)
    alike = analyse(sound.waveform, sound.scenario.setup())
    assert alike.bank_difference is not None
    assert alike.bank_difference.call == "even"
    assert not any("bank" in f.code for f in alike.findings)


def test_banks_are_null_without_numbers_or_banks(captures) -> None:
    late = captures["V8", "late"]
    setup = late.scenario.setup()
    for changed in (replace(setup, sync=None), replace(setup, banks=None)):
        result = analyse(late.waveform, changed).to_json()
        assert (result["banks"], result["bank_difference"]) == (None, None)
        assert result["positions"]


def test_errors_of_cylinders_go_together_as_the_fit_says(captures) -> None:
    made = captures["F6", "sound"]
    prepared = prepare(made.waveform, made.scenario.setup()).prepared
    assert prepared is not None
    found = fitted_twin(prepared, HumpMethod().measure(prepared), folded(prepared.cranking))
    correlation = method_correlation(found, 1.0)
    assert np.diag(correlation) == pytest.approx(np.ones(6))
    assert correlation == pytest.approx(correlation.T)
    assert np.abs(correlation).max() <= 1 + 1e-9
    measured = TwinMethod().measure(prepared)
    assert measured.error_correlation is not None
    assert measured.method_errors.shape == (6,)
    assert method_errors(found, 1.0).min() > 0
