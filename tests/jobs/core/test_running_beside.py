"""Cranking and running balance side by side: what each pair of results amounts to."""

from dataclasses import replace

import pytest

from engines.core.firing import FiringOrder
from jobs.core.balances import (
    Balance,
    Disagreement,
    agreed_sets,
    balance_of,
    signed_balance,
)
from jobs.core.idle_for_customer import after_for_customer, before_for_customer
from jobs.core.plan import Evidence, IdleBalance
from jobs.core.plan.clues import clues_in
from jobs.core.plan.focus import focus_of, misfiring_of
from jobs.core.running_beside import Beside, beside_lines, flywheel_doubt, lines_after_repair
from tests.jobs.work.conftest import report_of
from traces.core.findings import finding

EVEN = Balance(is_judged=True)


def _weak(*cylinders: int) -> Balance:
    return Balance(is_judged=True, weak=frozenset(cylinders))


def _between(*cylinders: int) -> Balance:
    return Balance(is_judged=True, watch=frozenset(cylinders))


def _told(cranking: Balance | None, running: Balance) -> dict[Beside, tuple[int, ...]]:
    lines = beside_lines(cranking, running, is_diesel=False)
    return {line.kind: line.cylinders for line in lines}


# common practice: weak in both is mechanical, even while cranking and weak at idle is the burn
@pytest.mark.parametrize(
    ("cranking", "running", "told"),
    [
        (_weak(3), _weak(3), {Beside.MECHANICAL: (3,)}),
        (EVEN, _weak(2, 4), {Beside.BURN: (2, 4)}),
        (_weak(3), EVEN, {Beside.CONTRADICTION: (3,)}),
        (_weak(3), _weak(2), {Beside.CONTRADICTION: (3,), Beside.BURN: (2,)}),
        (_weak(1, 3), _weak(3), {Beside.MECHANICAL: (3,), Beside.CONTRADICTION: (1,)}),
        (Balance(is_judged=True, watch=frozenset({3})), _weak(3), {Beside.WATCH: (3,)}),
        (EVEN, EVEN, {Beside.EVEN: ()}),
        (None, _weak(3), {Beside.OPEN: (3,)}),
        # nothing weak leaves nothing open: the cranking test is not asked for
        (Balance(is_judged=False), EVEN, {Beside.IDLES_EVENLY: ()}),
        (None, _between(3), {Beside.BORDERLINE: (3,)}),
        # between weak and good at idle does not contradict the cranking test
        (_weak(3), _between(3), {Beside.LEANS_MECHANICAL: (3,)}),
        (_weak(1, 3), _between(3), {Beside.LEANS_MECHANICAL: (3,), Beside.CONTRADICTION: (1,)}),
        (_between(3), _between(3), {Beside.BORDERLINE: (3,)}),
        (EVEN, _between(3), {Beside.BORDERLINE: (3,)}),
        (_between(2), EVEN, {Beside.BORDERLINE: (2,)}),
        # a plug that was out says nothing of its cylinder
        (Balance(is_judged=True, untested=frozenset({3})), _weak(3), {Beside.OPEN: (3,)}),
        (
            Balance(is_judged=True, weak=frozenset({1, 4}), is_settled=False),
            _weak(1),
            {Beside.OPEN: ()},
        ),
        (EVEN, Balance(is_judged=False), {}),
    ],
)
def test_what_two_tests_amount_to(cranking, running, told) -> None:
    assert _told(cranking, running) == told


@pytest.mark.parametrize(
    ("told", "common", "disagreement"),
    [
        # one leaves open what another settles
        ([((1,), (4,)), ((1,),)], {frozenset({1})}, None),
        ([((1,), (4,)), ((4,), (2,))], {frozenset({4})}, None),
        ([((),), ((),)], {frozenset()}, None),
        ([((1,),), ((3,),)], set(), Disagreement.CYLINDERS),
        # even names nobody: it does not show what the others show
        ([((),), ((3,),), ((3,),)], set(), Disagreement.SOMETIMES),
        ([((),), ((3,),), ((2,),)], set(), Disagreement.CYLINDERS),
    ],
)
def test_captures_disagree_only_where_no_set_fits_them_all(told, common, disagreement) -> None:
    assert agreed_sets(told) == (common, disagreement)
    if disagreement:
        lines = beside_lines(_weak(3), _weak(3), is_diesel=False, disagree=disagreement)
        assert [(line.kind, line.cylinders) for line in lines] == [(Beside.DISAGREE, ())]
        assert lines == lines_after_repair(None, _weak(3), disagree=disagreement)


def test_the_two_disagreements_are_told_apart() -> None:
    words = {
        beside_lines(EVEN, EVEN, is_diesel=False, disagree=how)[0].words for how in Disagreement
    }
    assert len(words) == len(Disagreement)


ORDER = FiringOrder.parse("1-3-4-2")
LIKE = dict.fromkeys(range(1, 5), 1.0)
WEAK_3 = LIKE | {3: 0.5}


def test_an_even_test_without_numbers_still_says_that_none_is_weak() -> None:
    even = balance_of(report_of(LIKE, ORDER, known=False))
    weak = balance_of(report_of(WEAK_3, ORDER))
    assert _told(even, weak) == {Beside.BURN: (3,)}
    assert _told(weak, even) == {Beside.CONTRADICTION: (3,)}
    # one that holds a weak cylinder without a number leaves it open
    nameless = balance_of(report_of(WEAK_3, ORDER, known=False))
    assert _told(nameless, weak) == _told(weak, nameless) == {Beside.OPEN: ()}


def test_a_signed_verdict_counts_before_the_cranking_report() -> None:
    even, weak = report_of(LIKE, ORDER), report_of(WEAK_3, ORDER)
    by_gauge = signed_balance(balance_of(even), "yes", [2], even.candidates)
    assert _told(by_gauge, _weak(2)) == {Beside.MECHANICAL: (2,)}
    overruled = signed_balance(balance_of(weak), "yes", [2], weak.candidates)
    assert _told(overruled, _weak(3)) == {Beside.CONTRADICTION: (2,), Beside.BURN: (3,)}
    acquitted = signed_balance(balance_of(weak), "no", [3], weak.candidates)
    assert _told(acquitted, _weak(3)) == {Beside.BURN: (3,)}
    # what was left open by a signature is neither mechanical nor cleared
    unsettled = signed_balance(balance_of(weak), "unsure", [3], weak.candidates)
    assert _told(unsettled, _weak(3)) == {Beside.WATCH: (3,)}
    # what a gauge found is settled, though the capture watched it or had its plug out
    half = Balance(is_judged=True, watch=frozenset({2}), untested=frozenset({2}))
    gauged = signed_balance(half, "yes", [2])
    assert gauged.weak == {2}
    assert not gauged.watch
    assert not gauged.untested
    # all sets that fit were signed for
    either = signed_balance(balance_of(weak), "yes", [1, 4], [(1,), (4,)])
    assert _told(either, _weak(1)) == {Beside.OPEN: ()}
    # and without any capture
    assert _told(signed_balance(Balance(is_judged=False), "yes", [2]), _weak(2)) == {
        Beside.MECHANICAL: (2,)
    }


# docs/running.md: 6 of 9 engines judged as of one piece that are not name a wrong cylinder
@pytest.mark.parametrize("code", ["flywheel-decides", "two-mass-judged"])
def test_each_line_says_so_where_it_rests_on_the_flywheel(code) -> None:
    report = replace(report_of(WEAK_3, ORDER), findings=(finding(code),))
    running = balance_of(report)
    assert running.rests_on_flywheel
    for cranking in (None, EVEN, _weak(3), _weak(1), _between(3)):
        lines = beside_lines(cranking, running, is_diesel=False)
        assert lines
        assert all(line.is_doubtful and flywheel_doubt() in line.remedy for line in lines)
    for before, after in ((_weak(1), running), (running, EVEN)):
        lines = lines_after_repair(before, after)
        assert lines
        assert all(flywheel_doubt() in line.remedy for line in lines)
    sure = beside_lines(_weak(1), balance_of(report_of(WEAK_3, ORDER)), is_diesel=False)
    assert not any(line.is_doubtful or flywheel_doubt() in line.remedy for line in sure)


def test_the_plan_takes_less_from_an_idle_that_rests_on_the_flywheel() -> None:
    sure = IdleBalance(burns_badly=frozenset({3}), contradicted=frozenset({1}))

    def keys(idle: IdleBalance) -> dict[str, tuple[int, ...]]:
        evidence = Evidence(idle=idle)
        clues = clues_in(evidence, focus_of(evidence))
        return {c.key: c.cylinders for c in clues if "idle_" in c.key}

    assert keys(sure) == {"idle_burn": (3,), "idle_contradicts": (1,)}
    assert keys(replace(sure, rests_on_flywheel=True)) == {"idle_unsure": ()}
    assert misfiring_of(Evidence(idle=sure)) == {3}
    assert not misfiring_of(Evidence(idle=replace(sure, rests_on_flywheel=True)))


@pytest.mark.parametrize(
    ("cranking", "running"),
    [
        (replace(EVEN, is_uncertain=True), EVEN),
        (EVEN, replace(EVEN, is_uncertain=True)),
        (replace(EVEN, untested=frozenset({2})), EVEN),
        (EVEN, replace(EVEN, rests_on_flywheel=True)),
    ],
)
def test_even_as_far_as_it_can_tell_is_no_flat_even(cranking, running) -> None:
    flat = beside_lines(EVEN, EVEN, is_diesel=False)[0]
    told = beside_lines(cranking, running, is_diesel=False)[0]
    assert (flat.kind, flat.is_doubtful) == (Beside.EVEN, False)
    assert (told.kind, told.is_doubtful) == (Beside.EVEN, True)
    assert told.remedy.startswith(flat.remedy)
    assert len(told.remedy) > len(flat.remedy)


@pytest.mark.parametrize(
    ("before", "running", "told"),
    [
        (_weak(3), EVEN, {Beside.ADDS_AGAIN: (3,)}),
        (_weak(3), _weak(3), {Beside.STILL_WEAK: (3,)}),
        (_weak(3), _weak(2), {Beside.NEWLY_WEAK: (2,), Beside.ADDS_AGAIN: (3,)}),
        (_weak(3), _between(3), {Beside.BORDERLINE: (3,)}),
        (None, EVEN, {Beside.IDLES_EVENLY: ()}),
        (None, _weak(3), {Beside.NEWLY_WEAK: (3,)}),
        (_weak(3), replace(_weak(1, 4), is_settled=False), {Beside.OPEN: ()}),
    ],
)
def test_after_the_repair_the_idle_is_held_against_the_idle_before(before, running, told) -> None:
    lines = lines_after_repair(before, running)
    assert {line.kind: line.cylinders for line in lines} == told


def test_an_engine_without_a_starter_is_not_sent_for_a_cranking_test() -> None:
    starter, traction = (
        beside_lines(None, _weak(3), is_diesel=False, is_traction=is_traction)[0]
        for is_traction in (False, True)
    )
    assert starter.words == traction.words
    assert starter.remedy != traction.remedy


def test_the_customer_reads_alike_only_where_all_are_clearly_good() -> None:
    alike = after_for_customer({}, is_even=True)
    nearly = after_for_customer({3: 0.85}, is_even=True, is_alike=False)
    uneven = after_for_customer({3: 0.5}, is_even=False)
    assert len({alike[:-1], nearly.split(":")[0], uneven.split(":")[0]}) == 3
    assert "85 %" in nearly


def test_the_customer_reads_how_often_a_cylinder_missed_and_not_its_mean() -> None:
    for said in (
        before_for_customer({3: 0.9}, {3: 0.3}),
        after_for_customer({3: 0.9}, {3: 0.3}, is_even=False),
    ):
        assert "30 %" in said
        assert "90 %" not in said


def test_a_diesel_is_not_sent_for_its_spark_and_doubt_is_told() -> None:
    petrol, diesel, unsure = (
        beside_lines(crank, _weak(2), is_diesel=is_diesel)[0].remedy
        for crank, is_diesel in (
            (EVEN, False),
            (EVEN, True),
            (Balance(is_judged=True, is_uncertain=True), False),
        )
    )
    assert petrol != diesel
    assert unsure.startswith(petrol)
    assert len(unsure) > len(petrol)
