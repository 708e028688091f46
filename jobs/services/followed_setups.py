"""Captures that count as of a cranked engine, an idling one or one cylinder, as set up."""

from django.utils.translation import gettext as _

from jobs.models import VisitCapture, shown_by
from jobs.selectors.captures import as_counted
from jobs.selectors.proofs import doubts_without_proof
from jobs.services.timeline import event_add
from shopdiag.people.models import Member
from traces.core.setup import AnalysisSetup, SetupError
from traces.models import Capture, Work


def capture_follow_setup(capture: Capture, analysis: AnalysisSetup, member: Member) -> None:
    """Count a capture among those of a cranked engine, an idling one or one cylinder's pressure.

    Its set-up says which.

    Raises
    ------
    SetupError
        If a verdict is signed on it as cranking, its job is closed, or a repair is said to hold by
        what it showed.
    """
    row = VisitCapture.objects.filter(capture=capture).select_related("visit", "capture").first()
    shows = shown_by(analysis.kind)
    if row is None or row.shows == shows:
        return
    if row.visit.judgements.filter(run__capture=capture).exists():
        raise SetupError(
            _(
                "A verdict is signed on this capture as a cranking test; record the idling engine, "
                "or the pressure in a cylinder, as a capture of its own."
            )
        )
    if row.visit.closed_at is not None:
        raise SetupError(
            _("This job is closed: what this capture counts as cannot be changed any more.")
        )
    if doubts_without_proof(row) and _has_shown(row):
        raise SetupError(
            _(
                "The repair is said to hold, and this capture is part of its proof. Set it aside "
                "with your reason, set it up anew, then let it count again."
            )
        )
    row.purpose = VisitCapture.purpose_for(shows, is_after=row.is_after_repair)
    row.save(update_fields=["purpose"])
    event_add(
        visit=row.visit,
        by=member,
        kind="capture",
        words=lambda: (
            {
                "cranked": _("set the capture “%(capture)s” up as that of a cranked engine"),
                "running": _("set the capture “%(capture)s” up as that of an idling engine"),
                "pressure": _("set the capture “%(capture)s” up as one cylinder's pressure"),
            }[shows]
            % {"capture": row.capture}
        ),
        data={"capture": row.capture_id, "purpose": row.purpose},
    )


def _has_shown(row: VisitCapture) -> bool:
    """Return whether a capture was judged as what it counts as; else nothing rests on it yet."""
    judged = row.capture.runs.filter(
        state=Work.State.DONE, verdict__in=["even", "uneven", "measured"]
    )
    return as_counted(judged).exists()
