"""Firing order and angles; no database."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engines.core.firing import (
    CYCLE_DEG,
    MOST_CYLINDERS,
    FiringAngleError,
    FiringOrder,
    FiringOrderError,
)
from tests.wording import named, says

orders = st.integers(1, MOST_CYLINDERS).flatmap(lambda n: st.permutations(range(1, n + 1)))


@st.composite
def uneven_orders(draw):
    """Any order whose firings are at least 15 degrees apart."""
    sequence = draw(st.permutations(range(1, draw(st.integers(2, 12)) + 1)))
    gaps = draw(st.lists(st.floats(0.0, 1.0), min_size=len(sequence), max_size=len(sequence)))
    free_deg = CYCLE_DEG - 15.0 * len(sequence)
    share = sum(gaps) or 1.0
    angles = [0.0]
    for gap in gaps[:-1]:
        angles.append(angles[-1] + 15.0 + gap / share * free_deg * 0.999)
    return FiringOrder(tuple(sequence), tuple(angles))


@pytest.mark.parametrize(
    ("text", "spacing_deg"),
    [
        ("1-3-2", 240),
        ("1-3-4-2", 180),
        ("1-2-4-5-3", 144),
        ("1-5-3-6-2-4", 120),
        ("1-8-4-3-6-5-7-2", 90),
        ("1-6-5-10-2-7-3-8-4-9", 72),
        ("1-7-5-11-3-9-6-12-2-8-4-10", 60),
    ],
)
def test_even_firings_are_720_degrees_shared_by_the_cylinders(text, spacing_deg):
    # Arithmetic: a four-stroke cycle of 720 degrees over 3, 4, 5, 6, 8, 10, 12 cylinders.
    order = FiringOrder.parse(text)
    assert order.is_even
    assert order.intervals_deg == pytest.approx([spacing_deg] * len(order))


def test_odd_fire_six_alternates_150_and_90_degrees():
    order = FiringOrder.parse("1-6-5-4-3-2", "0,150,240,390,480,630")
    assert list(order.intervals_deg) == [150, 90, 150, 90, 150, 90]
    assert not order.is_even
    assert order.angle_of(5) == 240
    # 360 degrees after 1 (0) would be 360; 4 fires at 390, so there are no companions.
    assert order.companion_of(1) is None
    assert order.companions == ()


def test_companions_of_the_common_inline_four():
    # Common practice: waste spark pairs 1 with 4 and 2 with 3.
    order = FiringOrder.parse("1-3-4-2")
    assert order.companions == ((1, 4), (3, 2))
    assert [order.companion_of(c) for c in (1, 2, 3, 4)] == [4, 3, 2, 1]


def test_companions_of_a_six_and_an_eight():
    # Common practice: 1-6, 5-2, 3-4 share a coil on the inline six.
    assert FiringOrder.parse("1-5-3-6-2-4").companions == ((1, 6), (5, 2), (3, 4))
    # By hand: 1-8-4-3 | 6-5-7-2, the second half is one turn after the first.
    assert FiringOrder.parse("1-8-4-3-6-5-7-2").companions == ((1, 6), (8, 5), (4, 7), (3, 2))


@pytest.mark.parametrize("text", ["1-3-2", "1-2-4-5-3"])
def test_odd_numbers_of_cylinders_have_no_companions(text):
    assert FiringOrder.parse(text).companions == ()


@pytest.mark.parametrize(
    "text", ["1-3-4-2", "1 3 4 2", "1,3,4,2", " 1, 3, 4, 2 ", "1–3–4–2", "1—3‑4;2", "01-03-04-02"]
)
def test_separators_people_type(text):
    assert FiringOrder.parse(text).sequence == (1, 3, 4, 2)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", named("firing.firing-order-empty-give")),
        ("  -- ", named("firing.firing-order-empty-give")),
        ("1-3-4", named("firing.cylinder-missing-from-firing", missing=2)),
        ("1-3-5-2", named("firing.cylinder-missing-from-firing", missing=4)),
        ("1-3-3-2", named("firing.cylinder-stands-twice-firing", twice=3)),
        ("0-1-2-3", named("firing.cylinder-missing-from-firing", missing=4)),
        ("2", named("firing.cylinder-missing-from-firing", missing=1)),
        ("A-B-C", named("firing.not-firing-order-give")),
        ("1.5-2", named("firing.not-firing-order-give")),
        (
            "-".join(map(str, range(1, 18))),
            named("firing.firing-order-1-cylinders", most_cylinders=16, count=17),
        ),
        ("1-" + "9" * 6000, named("firing.not-firing-order-give")),
    ],
)
def test_orders_that_are_none_say_why(text, part):
    with pytest.raises(FiringOrderError) as refused:
        FiringOrder.parse(text)
    assert says(refused.value, part)


@pytest.mark.parametrize(
    ("angles", "part"),
    [
        ("0,180,360", named("firing.there-angles-cylinders-give", angles=3, count=4)),
        ("0,180,360,540,700", named("firing.there-angles-cylinders-give", angles=5, count=4)),
        ("10,180,360,540", named("firing.first-angle-must-0")),
        ("0,360,180,540", named("firing.angles-must-rise-least")),
        ("0,180,180,540", named("firing.angles-must-rise-least")),
        ("0,180,360,720", named("firing.angles-must-rise-least")),
        ("0,180,360,nan", named("firing.angles-must-rise-least")),
        ("nan,180,360,540", named("firing.first-angle-must-0")),
        ("0,180,360,inf", named("firing.angles-must-rise-least")),
        ("0,a,360,540", named("firing.not-angles-give-degrees")),
        ([0, None, 360, 540], named("firing.not-angles-give-degrees")),
    ],
)
def test_angles_that_cannot_be_say_why(angles, part):
    with pytest.raises(FiringAngleError) as refused:
        FiringOrder.parse("1-3-4-2", angles)
    assert says(refused.value, part)


def test_a_wrong_order_is_not_blamed_on_its_angles():
    with pytest.raises(FiringOrderError) as raised:
        FiringOrder.parse("1-3-5-2", "0,180,360")
    assert says(raised.value, "firing.cylinder-missing-from-firing", missing=4)
    assert not isinstance(raised.value, FiringAngleError)


@pytest.mark.parametrize("empty", [None, "", []])
def test_no_angles_means_even(empty):
    assert FiringOrder.parse("1-3-4-2", empty).tdc_angles_deg == (0, 180, 360, 540)


def test_a_cylinder_the_engine_lacks_is_named():
    with pytest.raises(FiringOrderError) as refused:
        FiringOrder.parse("1-3-4-2").position_of(5)
    assert says(refused.value, "firing.cylinder-not-firing-order", cylinder=5, self="1-3-4-2")


def test_starting_at_a_cylinder_by_hand():
    order = FiringOrder.parse("1-6-5-4-3-2", "0,150,240,390,480,630").starting_at(6)
    assert order.sequence == (6, 5, 4, 3, 2, 1)
    assert order.tdc_angles_deg == (0, 90, 240, 330, 480, 570)


@given(orders, st.sampled_from(["-", " ", ", ", "–"]))
def test_any_permutation_is_read_and_written_back(sequence, separator):
    order = FiringOrder.parse(separator.join(map(str, sequence)))
    assert order.sequence == tuple(sequence)
    assert FiringOrder.parse(str(order)) == order
    assert math.fsum(order.intervals_deg) == pytest.approx(CYCLE_DEG)


@given(uneven_orders(), st.data())
def test_starting_elsewhere_keeps_every_gap(order, data):
    start = data.draw(st.sampled_from(order.sequence))
    turned = order.starting_at(start)
    assert turned.sequence[0] == start
    assert sorted(turned.sequence) == sorted(order.sequence)
    at = order.position_of(start)
    assert turned.intervals_deg == pytest.approx(
        order.intervals_deg[at:] + order.intervals_deg[:at]
    )
    back = turned.starting_at(order.sequence[0])
    assert back.sequence == order.sequence
    assert back.tdc_angles_deg == pytest.approx(order.tdc_angles_deg)


@given(uneven_orders())
def test_companions_are_mutual_and_named_once(order):
    named = [cylinder for pair in order.companions for cylinder in pair]
    assert len(named) == len(set(named))
    for one, other in order.companions:
        assert order.companion_of(other) == one
        apart = (order.angle_of(other) - order.angle_of(one)) % CYCLE_DEG
        assert apart == pytest.approx(360.0, abs=1.0)


@given(orders.filter(lambda sequence: len(sequence) % 2 == 0))
def test_every_even_engine_of_even_count_pairs_all_cylinders(sequence):
    order = FiringOrder.even(sequence)
    assert sorted(c for pair in order.companions for c in pair) == sorted(sequence)


@given(st.lists(st.integers(-3, 20), max_size=20))
def test_numbers_are_an_order_only_as_a_permutation(numbers):
    is_permutation = 1 <= len(numbers) <= MOST_CYLINDERS and sorted(numbers) == list(
        range(1, len(numbers) + 1)
    )
    try:
        FiringOrder.even(numbers)
    except FiringOrderError:
        assert not is_permutation
    else:
        assert is_permutation
