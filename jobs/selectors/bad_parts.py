"""Which parts the tests of a diagnosis found bad, by swaps and by tests of the part itself."""

from collections.abc import Iterable

from jobs.core.after_repair import BadPart
from jobs.core.swap_checks import PART_TESTED_BY
from jobs.models import CylinderFinding, SwapTest, Visit, WorkOrder
from jobs.selectors.consents import repair_consent_of


def parts_found(visit: Visit) -> tuple[BadPart, ...]:
    """Return the parts found bad, with the cylinder each belongs to, by cylinder.

    The newest answer on a part of a cylinder counts: a part that a later test clears is left out.
    """
    answers: dict[tuple[str, int], bool] = {}
    for order in visit.work_orders.select_related("judgement", "last_answer").order_by("pk"):
        if repair_consent_of(order) is None:
            answers |= dict(_answers(order))
    labels = dict(SwapTest.Part.choices)
    bad = sorted((cylinder, part) for (part, cylinder), is_bad in answers.items() if is_bad)
    return tuple(BadPart(str(labels[part]), cylinder) for cylinder, part in bad)


def _answers(order: WorkOrder) -> Iterable[tuple[tuple[str, int], bool]]:
    """Yield each part of an order's tests with whether it is bad; a swap weighs more."""
    of_parts = order.findings.filter(
        replaced_by=None,
        test__in=PART_TESTED_BY,
        cylinder__isnull=False,
        outcome__in=[CylinderFinding.Outcome.BAD, CylinderFinding.Outcome.GOOD],
    )
    for finding in of_parts.order_by("pk"):
        is_bad = finding.outcome == CylinderFinding.Outcome.BAD
        yield (PART_TESTED_BY[finding.test], finding.cylinder or 0), is_bad
    swaps = list(order.swaps.exclude(followed=SwapTest.Followed.CHANGED).order_by("pk"))
    # what followed once and stayed once is to be repeated before a part is bought
    stayed = {(s.part, s.from_cylinder) for s in swaps if s.followed == SwapTest.Followed.NO}
    for swap in swaps:
        moved = (swap.part, swap.from_cylinder)
        yield moved, swap.followed == SwapTest.Followed.YES and moved not in stayed
