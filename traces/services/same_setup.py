"""Analysing a capture with the set-up of another one."""

from dataclasses import replace
from uuid import UUID

from shopdiag.people.models import Member
from traces.models import Capture, CaptureSetup, Run
from traces.selectors.event_angles import with_kept_angle
from traces.selectors.same_channels import analysis_for
from traces.services.runs import run_add


def run_like_add(
    *, member: Member, capture: Capture, like: CaptureSetup, form_token: UUID | None = None
) -> Run:
    """Analyse a capture as another one was set up; what was changed by hand there stays there.

    So does a plug that was out. A sync of unknown angle takes the one kept with the engine since.
    Which channels are taken is `analysis_for`'s business.

    Raises
    ------
    SetupError
        If the file cannot answer that set-up, or is asked which cylinder it shows; one sentence
        for the person.
    """
    reading = Capture.objects.select_related("current_reading").get(pk=capture.pk).reading
    before = Capture.objects.select_related("current_reading").get(pk=like.capture_id).reading
    analysis = analysis_for(like.analysis, before, reading)
    if analysis.sync:
        sync = with_kept_angle(member, like.engine, analysis.sync)
        analysis = replace(analysis, sync=sync)
    return run_add(
        member=member,
        capture=capture,
        analysis=analysis,
        engine=like.engine,
        conditions=like.conditions,
        form_token=form_token,
    )
