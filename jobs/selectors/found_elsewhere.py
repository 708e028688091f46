"""What tests on the engine found on cylinders that the verdict does not name."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence

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


def standing_findings(
    orders: Mapping[int, Sequence[WorkOrder]],
) -> defaultdict[int, list[CylinderFinding]]:
    """Return what the orders of diagnoses found, by the id of the visit.

    Parameters
    ----------
    orders
        All orders of each visit, by the id of a visit that the member may see.
    """
    of_diagnosis = [o.pk for among in orders.values() for o in among if not is_of_repair(o, among)]
    found: defaultdict[int, list[CylinderFinding]] = defaultdict(list)
    if of_diagnosis:
        standing = _STANDING.filter(work_order__in=of_diagnosis).select_related("work_order")
        for finding in standing.order_by("work_order", "pk"):
            found[finding.work_order.visit_id].append(finding)
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
