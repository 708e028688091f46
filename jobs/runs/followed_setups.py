"""Captures that count as of an idling or of a cranked engine, as their set-up says."""

from django.utils.translation import gettext as _

from jobs.models import VisitCapture
from traces.core.setup import AnalysisSetup, SetupError
from traces.models import Capture


def capture_follow_setup(capture: Capture, analysis: AnalysisSetup) -> None:
    """Count a capture among those of an idling or of a cranked engine, as its set-up says.

    Raises
    ------
    SetupError
        If a verdict is signed on it as cranking, or its job is closed.
    """
    row = VisitCapture.objects.filter(capture=capture).select_related("visit").first()
    is_running = not analysis.kind.shows_compressions
    if row is None or row.is_running == is_running:
        return
    if row.visit.judgements.filter(run__capture=capture).exists():
        raise SetupError(
            _(
                "A verdict is signed on this capture as a cranking test; record the idling engine "
                "as a capture of its own."
            )
        )
    if row.visit.closed_at is not None:
        raise SetupError(
            _("This job is closed: what this capture counts as cannot be changed any more.")
        )
    row.purpose = VisitCapture.purpose_for(is_running=is_running, is_after=row.is_after_repair)
    row.save(update_fields=["purpose"])
