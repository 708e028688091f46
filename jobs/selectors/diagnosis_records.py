"""What the diagnosis of a visit has on record of its tests, as the plan reads it."""

from collections.abc import Mapping, Sequence
from typing import cast

from django.db.models import Q

from jobs.core.measured_tests import Limit
from jobs.core.plan import SwapDone, TestDone
from jobs.core.plan.evidence import Figure, SwapPart
from jobs.core.plan.held import READ_BY_LIMITS
from jobs.models import CylinderFinding, SwapTest, Visit, WorkOrder
from jobs.selectors.consents import is_of_repair
from jobs.selectors.cranked_warm import CrankedAt, was_warm
from jobs.selectors.misfires import counts_standing
from jobs.selectors.typed_findings import limits_of, typed_test_of

_FIGURES = (
    *("leak_percent", "heard_at", "first_puff_kpa", "pressure_kpa"),
    *("idle_kpa", "snap_kpa"),
)


def tests_made(visit: Visit, cranked: Sequence[CrankedAt]) -> tuple[TestDone, ...]:
    """Return the tests of the diagnosis that stand, as the plan reads them."""
    orders = orders_of_diagnosis(visit)
    findings = CylinderFinding.objects.filter(work_order__in=orders, replaced_by=None)
    by_pk = {order.pk: order for order in orders}
    limits: dict[tuple[int, str], Mapping[str, Limit]] = {}
    made = []
    # a bank that the scan tool does not report was asked for; it must not be asked for again
    is_made = ~Q(outcome=CylinderFinding.Outcome.NOT_DONE) | Q(bank__isnull=False)
    for finding in findings.filter(is_made).order_by("pk"):
        key = (finding.work_order_id, finding.test)
        if key not in limits:
            limits[key] = _limits_in_force(by_pk[finding.work_order_id], finding.test)
        made.append(
            TestDone(
                test=finding.test,
                outcome=finding.outcome,
                cylinder=finding.cylinder,
                bank=finding.bank,
                figures=figures_of(finding),
                limits=limits[key],
                is_warm=was_warm(finding, by_pk[finding.work_order_id], cranked),
            )
        )
    return tuple(made)


def _limits_in_force(order: WorkOrder, test: str) -> Mapping[str, Limit]:
    """Return the limits of a test that the plan reads by its figures; none of any other."""
    entry = typed_test_of(order, test) if test in READ_BY_LIMITS else None
    return limits_of(order, entry) if entry else {}


def counts_tabled(visit: Visit) -> dict[int, int]:
    """Return misfires by cylinder as a work order's table counts them.

    Empty where fewer than two cylinders were counted, which compares nothing, or where the initial
    checks hold a newer reading.
    """
    counted = CylinderFinding.objects.filter(
        work_order__in=orders_of_diagnosis(visit),
        replaced_by=None,
        test=CylinderFinding.Test.COUNTS,
        cylinder__isnull=False,
        figures__misfires__isnull=False,
    ).exclude(outcome=CylinderFinding.Outcome.NOT_DONE)
    rows = list(counted.order_by("pk"))
    # one order is one reading: what two of them count was counted over different drives
    newest = [row for row in rows if row.work_order_id == rows[-1].work_order_id]
    counts = {row.cylinder: int((row.figures or {})["misfires"]) for row in newest if row.cylinder}
    reading = counts_standing(visit)
    is_newer = bool(newest) and (reading is None or newest[-1].at > reading.at)
    return counts if is_newer and len(counts) > 1 else {}


def swaps_made(visit: Visit) -> tuple[SwapDone, ...]:
    """Return the swap tests of the diagnosis."""
    swaps = SwapTest.objects.filter(work_order__in=orders_of_diagnosis(visit))
    return tuple(
        SwapDone(cast("SwapPart", s.part), s.from_cylinder, s.to_cylinder, s.followed)
        for s in swaps
    )


def orders_of_diagnosis(visit: Visit) -> list[WorkOrder]:
    """Return the orders whose findings tell of the engine as it came."""
    orders = list(visit.work_orders.select_related("judgement", "last_answer"))
    return [order for order in orders if not is_of_repair(order, orders)]


def figures_of(finding: CylinderFinding) -> Mapping[str, Figure]:
    """Return what a finding measured or chose, by name; what was left empty is left out."""
    known = {name: getattr(finding, name) for name in _FIGURES} | (finding.figures or {})
    return {name: value for name, value in known.items() if value not in {None, ""}}
