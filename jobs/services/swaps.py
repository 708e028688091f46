"""Recording a swap test on a work order."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from jobs.core.misfires import (
    CountsError,
    check_cylinders,
)
from jobs.core.swap_checks import (
    PART_TESTED_BY,
    PartFound,
    SwapAnswer,
    doubts_about_swap,
    doubts_beside_parts,
)
from jobs.models import SwapTest, Visit, WorkOrder
from jobs.selectors.findings import part_labels
from jobs.services.timeline import event_add
from jobs.services.visits import check_open
from jobs.services.work import work_order_accept
from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.models import Member


@dataclass(frozen=True, slots=True)
class Swapped:
    """What was swapped and what became of the misfire; values as `SwapTest` keeps them."""

    part: str
    from_cylinder: int
    to_cylinder: int
    followed: str
    counts_before: Mapping[int, int] = field(default_factory=dict)
    counts_after: Mapping[int, int] = field(default_factory=dict)
    words: str = ""
    confirmed: Confirmed = False
    """Whether a person was asked about odd counts and says that they are right."""


@transaction.atomic
def swap_add(
    *, order: WorkOrder, member: Member, swapped: Swapped, form_token: UUID | None = None
) -> SwapTest:
    """Record a swap test; recording on an open order accepts it.

    The same `form_token` gives the same record, so that a form sent twice records once;
    the same test under another token is asked back.

    Raises
    ------
    ValidationError
        If a cylinder is none of the engine's, both are the same, counts and answer contradict
        each other, odd counts are not confirmed, or the order takes nothing any more.
    """
    visit = Visit.objects.select_for_update(no_key=True).get(pk=order.visit_id)
    if form_token:
        earlier = SwapTest.objects.filter(form_token=form_token, work_order=order).first()
        if earlier:
            return earlier
    check_open(visit)
    locked = WorkOrder.objects.select_for_update(no_key=True).get(pk=order.pk)
    if locked.state not in WorkOrder.OPEN_STATES:
        raise ValidationError(
            _("This work order is %(state)s; it takes no swap test.")
            % {"state": locked.get_state_display().lower()}
        )
    _check_places(locked, swapped)
    _check_followed(swapped)
    said = {
        "part": swapped.part,
        "from_cylinder": swapped.from_cylinder,
        "to_cylinder": swapped.to_cylinder,
        "followed": swapped.followed,
        "counts_before": {str(c): n for c, n in swapped.counts_before.items()},
        "counts_after": {str(c): n for c, n in swapped.counts_after.items()},
        "words": swapped.words.strip(),
    }
    there = already_there(locked.swaps.filter(by=member), **said) if form_token else ()
    answer = SwapAnswer(swapped.part, swapped.from_cylinder, swapped.to_cylinder, swapped.followed)
    asked = (
        *doubts_about_swap(answer, swapped.counts_before, swapped.counts_after),
        *doubts_beside_parts([answer], _parts_found(locked), part_labels()),
    )
    ask_back(swapped.confirmed, asked, there, about=said)
    swap = SwapTest(
        work_order=locked,
        **said,
        form_token=form_token,
        by=member,
    )
    swap.full_clean()
    if locked.state == WorkOrder.State.OPEN:
        work_order_accept(order=locked, member=member)
    swap.save()
    event_add(
        visit=visit,
        by=member,
        kind="finding",
        words=lambda: (
            _("moved the %(part)s from cylinder %(from_cylinder)s to %(to_cylinder)s. %(reading)s")
            % {
                "part": swap.get_part_display().lower(),
                "from_cylinder": swap.from_cylinder,
                "to_cylinder": swap.to_cylinder,
                "reading": swap.reading,
            }
        ),
        data={"work_order": order.pk, "swap": swap.pk, "followed": swap.followed},
    )
    return swap


def _parts_found(order: WorkOrder) -> list[PartFound]:
    """Return what tests of the parts themselves found, as it stands."""
    standing = order.findings.filter(replaced_by=None, test__in=PART_TESTED_BY)
    return [PartFound(PART_TESTED_BY[f.test], f.cylinder, f.outcome) for f in standing]


def _check_places(order: WorkOrder, swapped: Swapped) -> None:
    known = {int(n) for n in order.firing_order.split("-")} if order.firing_order else None
    for name, cylinder in (
        ("from_cylinder", swapped.from_cylinder),
        ("to_cylinder", swapped.to_cylinder),
    ):
        if cylinder < 1 or (known is not None and cylinder not in known):
            raise ValidationError(
                {
                    name: _("This engine has no cylinder %(cylinder)s; choose one it has.")
                    % {"cylinder": cylinder}
                }
            )
    if swapped.from_cylinder == swapped.to_cylinder:
        raise ValidationError(
            {"to_cylinder": _("Choose another cylinder than the part came from.")}
        )
    for name, counts in (
        ("counts_before", swapped.counts_before),
        ("counts_after", swapped.counts_after),
    ):
        try:
            check_cylinders(counts, known)
        except CountsError as error:
            raise ValidationError({name: str(error)}) from None


def _check_followed(swapped: Swapped) -> None:
    """Refuse an answer that the counts after the swap contradict."""
    after = swapped.counts_after
    if swapped.from_cylinder not in after or swapped.to_cylinder not in after:
        return
    stayed, followed = after[swapped.from_cylinder], after[swapped.to_cylinder]
    contradicts = (swapped.followed == SwapTest.Followed.YES and followed < stayed) or (
        swapped.followed == SwapTest.Followed.NO and stayed < followed
    )
    if contradicts:
        raise ValidationError(
            {
                "followed": _(
                    "After the swap cylinder %(from_cylinder)s counted %(stayed)s and cylinder "
                    "%(to_cylinder)s %(followed)s; check the answer or the counts."
                )
                % {
                    "from_cylinder": swapped.from_cylinder,
                    "stayed": stayed,
                    "to_cylinder": swapped.to_cylinder,
                    "followed": followed,
                }
            }
        )
