"""What tests on the engine found on cylinders that the verdict does not name."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence

from django.db.models import Prefetch
from django.utils.translation import gettext

from jobs.core.customer_words import CylindersTested
from jobs.core.request import named
from jobs.models import CylinderFinding, Judgement, Visit, WorkOrder
from jobs.selectors.consents import is_of_repair, repair_consent_of

_Outcome = CylinderFinding.Outcome
_STANDING = (
    CylinderFinding.objects.filter(replaced_by=None)
    .exclude(outcome=CylinderFinding.Outcome.NOT_DONE)
    .order_by("pk")
)


def measured_of(visit: Visit) -> CylindersTested:
    """Return which cylinders the tests of the diagnosis found bad, and which good.

    The newest finding of a test on a cylinder counts. Those of a repair's order are left out:
    they tell how the engine is now.
    """
    return _tested(_of_diagnosis(visit))


def _tested(findings: Iterable[CylinderFinding]) -> CylindersTested:
    newest: dict[tuple[int | None, str], str] = {}
    for finding in findings:
        newest[finding.cylinder, finding.test] = finding.outcome
    bad = {c for (c, _), outcome in newest.items() if outcome == _Outcome.BAD and c is not None}
    good = {c for (c, _), outcome in newest.items() if outcome == _Outcome.GOOD and c is not None}
    return CylindersTested(bad=frozenset(bad), good=frozenset(good - bad))


def found_elsewhere(judgement: Judgement | None) -> str:
    """Return for the shop what was found bad beside the verdict that stands; empty for nothing."""
    if judgement is None:
        return ""
    outside = measured_of(judgement.visit).bad - set(judgement.cylinders)
    if not outside:
        return ""
    names = named(judgement.cylinders) if judgement.cylinders else gettext("no cylinder")
    return gettext("A test on the engine is bad on %(outside)s; the verdict names %(names)s.") % {
        "outside": named(outside),
        "names": names,
    }


def unsigned(judgement: Judgement | None) -> str:
    """Return what was found bad beside a verdict since it was signed; empty for nothing.

    What was found before it stood before whoever signed.
    """
    if judgement is None:
        return ""
    findings = list(_of_diagnosis(judgement.visit))
    return found_elsewhere(judgement) if is_unsigned(judgement, findings) else ""


def is_unsigned(judgement: Judgement, findings: Sequence[CylinderFinding]) -> bool:
    """Return whether findings of the diagnosis are bad beside a verdict since it was signed."""
    since = {f.cylinder for f in findings if _is_bad_since(f, judgement)}
    return bool(since & (_tested(findings).bad - set(judgement.cylinders)))


def standing_findings(visits: Collection[int]) -> defaultdict[int, list[CylinderFinding]]:
    """Return what the orders of diagnoses found on visits that the member may see, by id."""
    found: defaultdict[int, list[CylinderFinding]] = defaultdict(list)
    if not visits:
        return found
    orders: defaultdict[int, list[WorkOrder]] = defaultdict(list)
    for order in (
        WorkOrder.objects.filter(visit__in=visits)
        .select_related("judgement", "last_answer__judgement")
        .prefetch_related(Prefetch("findings", _STANDING.select_related("work_order")))
        .order_by("pk")
    ):
        orders[order.visit_id].append(order)
    for visit, among in orders.items():
        of_diagnosis = [order for order in among if not is_of_repair(order, among)]
        found[visit] = [finding for order in of_diagnosis for finding in order.findings.all()]
    return found


def _is_bad_since(finding: CylinderFinding, judgement: Judgement) -> bool:
    made_from = finding.work_order.judgement_id
    return finding.outcome == _Outcome.BAD and made_from >= judgement.pk


def to_repair(judgement: Judgement) -> tuple[int, ...]:
    """Return the signed cylinders that tests on the engine found bad; all where they found none."""
    return signed_and_bad(judgement) or tuple(sorted(judgement.cylinders))


def signed_and_bad(judgement: Judgement) -> tuple[int, ...]:
    """Return the signed cylinders that tests on the engine found bad."""
    return tuple(sorted(measured_of(judgement.visit).bad & set(judgement.cylinders)))


def _of_diagnosis(visit: Visit) -> Iterator[CylinderFinding]:
    for order in visit.work_orders.select_related("judgement", "visit").order_by("pk"):
        if repair_consent_of(order) is None:
            yield from _STANDING.filter(work_order=order).select_related("work_order")
