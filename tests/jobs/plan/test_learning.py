"""Minutes of tests learnt from what orders took: arithmetic, worked by hand."""

import pytest

from jobs.core.plan import BookedOrder, Compression, Costs, Evidence, learnt_minutes, plan_for
from jobs.core.plan.knowledge import TESTS
from jobs.core.plan.learning import LEAST_ORDERS
from jobs.core.plan.reach import banks_of, reach_minutes
from tests.jobs.plan.test_plan import SIX

COIL, WIRING, LEAK = "coil", "wiring", "leak_down"


def order(minutes, *tests, reach=0.0):
    return BookedOrder(minutes, frozenset(tests), reach)


def test_an_order_of_one_test_tells_it_and_the_median_counts():
    found = learnt_minutes([order(20, COIL), order(90, COIL), order(30, COIL)])
    assert (found[COIL].minutes, found[COIL].orders) == (30, 3)


def test_an_order_of_several_is_split_by_their_usual_minutes():
    assert TESTS[COIL].minutes == pytest.approx(15)
    assert TESTS[WIRING].minutes == pytest.approx(20)
    found = learnt_minutes([order(70, COIL, WIRING)] * LEAST_ORDERS)
    # 70 minutes as 15 to 20: 30 and 40
    assert found[COIL].minutes == pytest.approx(30)
    assert found[WIRING].minutes == pytest.approx(40)


def test_reaching_is_taken_off_where_a_test_needs_it():
    found = learnt_minutes([order(60, LEAK, reach=25.0)] * LEAST_ORDERS)
    assert found[LEAK].minutes == pytest.approx(35)
    assert learnt_minutes([order(60, COIL, reach=25.0)] * LEAST_ORDERS)[COIL].minutes == 60


def test_less_than_reaching_takes_is_a_minute_and_never_none():
    assert learnt_minutes([order(10, LEAK, reach=25.0)] * LEAST_ORDERS)[LEAK].minutes == 1


@pytest.mark.parametrize(
    "orders",
    [
        [],
        [order(20, COIL)] * (LEAST_ORDERS - 1),
        [order(0, COIL)] * LEAST_ORDERS,
        [order(20)] * LEAST_ORDERS,
        # time that also went into what no plan knows
        [order(20, COIL, "other")] * LEAST_ORDERS,
    ],
)
def test_too_little_teaches_nothing(orders):
    assert learnt_minutes(orders) == {}


@pytest.mark.parametrize(
    ("test", "named", "minutes"),
    [
        # the odd cylinders lie under the manifold: 150 minutes, and 20 for the even ones
        ("leak_down", (1,), 150),
        ("leak_down", (1, 3), 150),
        ("leak_down", (1, 2), 170),
        ("leak_down", (), 20),
        ("plugs", (2,), 20),
        ("plugs", (2, 4), 170),
        ("plugs", (), 170),
        ("coil", (1, 2), 0),
    ],
)
def test_reaching_is_reckoned_by_bank_as_the_plan_adds_it(test, named, minutes):
    access = {c: 150 if c % 2 else 20 for c in SIX.cylinders}
    reached = banks_of(TESTS[test], named, access, SIX.banks)
    assert reach_minutes(reached, access, SIX.banks) == minutes


def test_the_plan_adds_what_learning_takes_off():
    weak = Compression("weak", weak={1: 0.5, 2: 0.4}, captures=2)
    access = {c: 150 if c % 2 else 20 for c in SIX.cylinders}
    plan = plan_for(Evidence(engine=SIX, compression=weak), Costs(access))
    first = next(t for t in plan.tests if TESTS[t.key].reach)
    reached = banks_of(TESTS[first.key], (1, 2), access, SIX.banks)
    assert first.minutes == TESTS[first.key].minutes + reach_minutes(reached, access, SIX.banks)
