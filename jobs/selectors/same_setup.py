"""The job's other captures that may take over a set-up in one tap, and those that may not."""

from dataclasses import dataclass
from uuid import UUID, uuid4

from jobs.models import VisitCapture
from traces.models import CaptureSetup, Work
from traces.selectors.same_channels import why_not_alike


@dataclass(frozen=True, slots=True)
class SameForOthers:
    """A capture's set-up, offered to the others of its job that have none.

    Parameters
    ----------
    like
        The set-up that is copied.
    fitting
        Who takes it over.
    left
        Who does not, each with why.
    form_token
        For the form that copies it.
    """

    like: CaptureSetup
    fitting: tuple[VisitCapture, ...]
    left: tuple[tuple[VisitCapture, str], ...]
    form_token: UUID


def same_for_others(tie: VisitCapture) -> SameForOthers | None:
    """Return what a capture's newest set-up may be copied to; None where there is nothing to copy.

    Only captures of the same state of the engine, read, not set aside and without a set-up.
    """
    setups = CaptureSetup.objects.filter(capture_id=tie.capture_id).select_related("engine")
    like = setups.order_by("-pk").first()
    if like is None or like.analysis.kind.shows_one_cylinder:
        return None
    others = (
        VisitCapture.objects.filter(visit_id=tie.visit_id, purpose=tie.purpose, aside_why="")
        .filter(capture__setups=None, capture__current_reading__state=Work.State.DONE)
        .exclude(pk=tie.pk)
        .select_related("capture__current_reading")
        .order_by("pk")
    )
    before = tie.capture.reading
    told = [(one, why_not_alike(like.analysis, before, one.capture.reading)) for one in others]
    if not told:
        return None
    return SameForOthers(
        like=like,
        fitting=tuple(one for one, why in told if not why),
        left=tuple((one, why) for one, why in told if why),
        form_token=uuid4(),
    )
