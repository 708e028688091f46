"""Files that were sent together: which comes next, and whose set-up it may take."""

from dataclasses import dataclass
from uuid import UUID, uuid4

from jobs.models import VisitCapture
from traces.models import CaptureSetup
from traces.selectors.offered_setups import setup_like_for


@dataclass(frozen=True, slots=True)
class Batch:
    """Where a capture stands among those of its upload.

    Parameters
    ----------
    number, count
        Which of how many it is.
    next
        The next one that is not set up; None where all others are.
    next_number
        Which of them that is.
    is_set_up
        Whether this one is.
    like
        The set-up made last for another of them, one whose channels this file has by name before
        others; None where there is none.
    form_token
        For the form that takes it over.
    """

    number: int
    count: int
    next: VisitCapture | None
    next_number: int
    is_set_up: bool
    like: CaptureSetup | None
    form_token: UUID

    def setup_numbered(self, pk: int) -> CaptureSetup | None:
        """Return the set-up of another of them that a page offered; None where it has none."""
        if self.like is None:
            return None
        batch = self.like.capture.visit_capture.batch
        return CaptureSetup.objects.filter(pk=pk, capture__visit_capture__batch=batch).first()


def batch_of(tie: VisitCapture) -> Batch | None:
    """Return where a capture stands in its upload; None where it came alone."""
    if tie.batch is None:
        return None
    ties = list(
        VisitCapture.objects.filter(visit_id=tie.visit_id, batch=tie.batch)
        .select_related("capture__current_reading")
        .order_by("pk")
    )
    if len(ties) < 2:
        return None
    at = next(i for i, one in enumerate(ties) if one.pk == tie.pk)
    setups = list(
        CaptureSetup.objects.filter(capture__in=[one.capture_id for one in ties])
        .select_related("capture__visit_capture", "engine")
        .order_by("-pk")
    )
    done = {setup.capture_id for setup in setups}
    # round to the first again: somebody may have begun in the middle
    turn = [(i % len(ties) + 1, ties[i % len(ties)]) for i in range(at + 1, at + len(ties))]
    number, following = next(
        ((n, one) for n, one in turn if one.capture_id not in done and not one.is_aside), (0, None)
    )
    return Batch(
        number=at + 1,
        count=len(ties),
        next=following,
        next_number=number,
        is_set_up=tie.capture_id in done,
        like=setup_like_for(tie.capture, [s for s in setups if s.capture_id != tie.capture_id]),
        form_token=uuid4(),
    )
