"""Cranking and running balance side by side: what each pair of results amounts to."""

import pytest

from jobs.core.running_beside import Balance, Beside, beside_lines

EVEN = Balance(is_judged=True)


def _weak(*cylinders: int) -> Balance:
    return Balance(is_judged=True, weak=frozenset(cylinders))


def _told(cranking: Balance | None, running: Balance, **how: bool) -> dict[Beside, tuple[int, ...]]:
    lines = beside_lines(cranking, running, is_diesel=how.pop("is_diesel", False), **how)
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
        (Balance(is_judged=False), EVEN, {Beside.OPEN: ()}),
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


def test_captures_of_the_idling_engine_that_disagree_name_nobody() -> None:
    assert _told(_weak(3), _weak(3), disagree=True) == {Beside.DISAGREE: ()}


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
