"""What tests of a job's diagnosis found, as its customer reads it."""

from jobs.core.customer_tests import TestTold, tests_for_customer
from jobs.core.customer_words import GaugeTold
from jobs.core.pressure import shown
from jobs.models import CylinderFinding, Visit, WorkOrder
from jobs.selectors.diagnosis_records import orders_of_diagnosis
from jobs.selectors.findings import gauge_words
from jobs.selectors.typed_findings import typed_words
from shopdiag.people.core.numerals import written

_TOLD = (CylinderFinding.Outcome.GOOD, CylinderFinding.Outcome.BAD)


def gauge_told(visit: Visit) -> GaugeTold:
    """Return what a dry gauge showed in the diagnosis, for the customer.

    Readings are compared within one order, the newest that measured two cylinders: another day
    has another battery and another engine temperature.
    """
    measured: set[int] = set()
    shares: dict[int, float] = {}
    highest: int | None = None
    for order in sorted(orders_of_diagnosis(visit), key=lambda o: -o.pk):
        if order.state == WorkOrder.State.WITHDRAWN:
            continue
        dry = order.findings.filter(test=CylinderFinding.Test.GAUGE_DRY, replaced_by=None)
        dry_kpa = {
            f.cylinder: f.pressure_kpa
            for f in dry.order_by("pk")
            if f.cylinder is not None and f.pressure_kpa is not None
        }
        measured |= set(dry_kpa)
        if not shares and len(dry_kpa) > 1 and max(dry_kpa.values()) > 0:
            top_kpa = max(dry_kpa.values())
            highest = min(c for c, kpa in dry_kpa.items() if kpa == top_kpa)
            shares = {c: kpa / top_kpa for c, kpa in dry_kpa.items()}
    return GaugeTold(frozenset(measured), shares, highest)


def tests_told(visit: Visit) -> tuple[str, ...]:
    """Return what the tests found, a line each; the newest result of a test on a part counts.

    Those of a withdrawn order and of the repair are left out.
    """
    orders = [o for o in orders_of_diagnosis(visit) if o.state != WorkOrder.State.WITHDRAWN]
    findings = CylinderFinding.objects.filter(work_order__in=orders, replaced_by=None)
    made = findings.exclude(outcome=CylinderFinding.Outcome.NOT_DONE)
    newest = {(f.test, f.cylinder, f.bank): f for f in made.order_by("pk")}
    unit = visit.shop.pressure_unit
    return tests_for_customer(
        [
            TestTold(f.test, f.outcome, f.cylinder, f.bank, _figures(f, unit), f.figures or {})
            for f in newest.values()
            if f.outcome in _TOLD
        ]
    )


def _figures(finding: CylinderFinding, unit: str) -> str:
    """Return what was measured, without how it was done."""
    parts = [gauge_words(finding, unit), typed_words(finding, unit)]
    if finding.leak_percent is not None:
        parts.append(written(f"{finding.leak_percent:g} %"))
    parts += [shown(kpa, unit) for kpa in (finding.idle_kpa, finding.snap_kpa) if kpa is not None]
    return ", ".join(part for part in parts if part)
