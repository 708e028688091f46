"""What tests on the engine found on cylinders that the verdict does not name."""

from collections.abc import Iterator

from django.utils.translation import gettext

from jobs.core.customer_words import CylindersTested
from jobs.core.request import named
from jobs.models import CylinderFinding, Judgement, Visit
from jobs.selectors.consents import repair_consent_of

_Outcome = CylinderFinding.Outcome


def measured_of(visit: Visit) -> CylindersTested:
    """Return which cylinders the tests of the diagnosis found bad, and which good.

    The newest finding of a test on a cylinder counts. Those of a repair's order are left out:
    they tell how the engine is now.
    """
    newest: dict[tuple[int | None, str], str] = {}
    for finding in _of_diagnosis(visit):
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
    since = {f.cylinder for f in _of_diagnosis(judgement.visit) if _is_bad_since(f, judgement)}
    still = measured_of(judgement.visit).bad - set(judgement.cylinders)
    return found_elsewhere(judgement) if since & still else ""


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
            done = order.findings.filter(replaced_by=None).exclude(outcome=_Outcome.NOT_DONE)
            yield from done.order_by("pk")
