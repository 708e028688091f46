"""What tests take on an engine in a shop, by the minutes booked on its work orders."""

from collections.abc import Iterable, Mapping

from django.db.models import Prefetch, Q

from engines.core.positions import bank_numbers
from engines.models import Engine
from engines.selectors import access_minutes
from jobs.core.plan import BookedOrder, Learnt, learnt_minutes
from jobs.core.plan.knowledge import TESTS
from jobs.core.plan.reach import banks_of, reach_minutes
from jobs.core.plan.readings import test_of
from jobs.models import CylinderFinding, UsedLine, WorkOrder
from jobs.selectors.used import counts
from shopdiag.people.models import Shop

MOST_ORDERS = 200
"""The newest so many orders count: lifts and hands change."""


def learnt_on(shop: Shop, engine: Engine | None) -> Mapping[str, Learnt]:
    """Return what tests took on an engine; empty where nobody booked enough, or it is not known."""
    if engine is None:
        return {}
    orders = list(_orders(shop, engine))
    if not orders:
        return {}
    access = access_minutes(shop, engine)
    return learnt_minutes(_booked(order, engine, access) for order in orders)


def _orders(shop: Shop, engine: Engine) -> Iterable[WorkOrder]:
    """Return finished orders of the engine on which time was booked for the diagnosis."""
    booked = UsedLine.objects.filter(is_repair=False, minutes__gt=0)
    standing = CylinderFinding.objects.filter(replaced_by=None).exclude(
        outcome=CylinderFinding.Outcome.NOT_DONE
    )
    return (
        WorkOrder.objects.filter(
            Q(judgement__run__setup__engine=engine)
            | Q(judgement__run__setup__engine=None, visit__vehicle__engine=engine),
            visit__shop=shop,
            state=WorkOrder.State.DONE,
            pk__in=booked.values("work_order"),
        )
        .prefetch_related(
            Prefetch("findings", standing, to_attr="standing"),
            "swaps",
            Prefetch("used_lines", UsedLine.objects.select_related("takes_back", "taken_back_by")),
        )
        .select_related("visit__vehicle")
        .order_by("-pk")[:MOST_ORDERS]
    )


def _booked(order: WorkOrder, engine: Engine, access: Mapping[int, int]) -> BookedOrder:
    lines = [line for line in order.used_lines.all() if counts(line) and not line.is_repair]
    tests, banks = _tests_of(order, engine), bank_numbers(engine.banks)
    reached = {
        bank
        for key in tests & TESTS.keys()
        for bank in banks_of(TESTS[key], order.cylinders, access, banks)
    }
    return BookedOrder(
        minutes=sum(line.minutes for line in lines),
        tests=tests,
        reach_minutes=reach_minutes(reached, access, banks),
    )


def _tests_of(order: WorkOrder, engine: Engine) -> frozenset[str]:
    """Return what was made on an order, by the plan's names; a test it does not know by its own."""
    fuel = order.visit.vehicle.fuel or engine.fuel
    made = set()
    for finding in order.standing:  # type: ignore[attr-defined]  # prefetched
        test = test_of(finding.test, fuel)
        # an engine is warmed up for a warm one
        is_warm = finding.test == CylinderFinding.Test.REPEAT and finding.is_warm
        made.add("repeat_warm" if is_warm else test.key if test else finding.test)
    made |= {f"swap_{swap.part}" for swap in order.swaps.all()}
    return frozenset(made)
