"""Analysing a capture with the set-up of another one."""

from dataclasses import replace
from uuid import UUID

from django.utils.translation import gettext as _

from shopdiag.people.models import Member
from traces.core.setup import NO_EDITS, AnalysisSetup, SetupError
from traces.models import Capture, CaptureSetup, Reading, Run
from traces.selectors.event_angles import with_kept_angle
from traces.services.runs import run_add


def run_like_add(
    *, member: Member, capture: Capture, like: CaptureSetup, form_token: UUID | None = None
) -> Run:
    """Analyse a capture as another one was set up; what was changed by hand there stays there.

    So does a plug that was out. A sync of unknown angle takes the one kept with the engine since.

    Channels are taken by name. Where the two files share no name at all, the channel of the same
    number is taken, if both have as many channels and that one has the same unit.

    Raises
    ------
    SetupError
        If the file cannot answer that set-up; one sentence for the person.
    """
    reading = Capture.objects.select_related("current_reading").get(pk=capture.pk).reading
    before = Capture.objects.select_related("current_reading").get(pk=like.capture_id).reading
    analysis = _for_reading(like.analysis, before, reading)
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


def _for_reading(analysis: AnalysisSetup, before: Reading, reading: Reading) -> AnalysisSetup:
    """Return a set-up with the channels that another file has for those it names."""

    def there(channel: str) -> str:
        return _channel_like(channel, before, reading)

    sync, voltage = analysis.sync, analysis.voltage_channel
    measured = analysis.measured_event
    return replace(
        analysis,
        current_channel=there(analysis.current_channel),
        sync=replace(sync, channel=there(sync.channel)) if sync else None,
        voltage_channel=there(voltage) if voltage else None,
        measured_event=replace(measured, channel=there(measured.channel)) if measured else None,
        # a plug is out for one capture
        opened_plug=None,
        hand=NO_EDITS,
    )


def _channel_like(wanted: str, before: Reading, reading: Reading) -> str:
    for channel in reading.channels:
        if str(channel["name"]).casefold() == wanted.strip().casefold():
            return str(channel["name"])
    names = [str(channel["name"]).casefold() for channel in before.channels]
    shared = {str(channel["name"]).casefold() for channel in reading.channels} & set(names)
    is_alike = len(names) == len(reading.channels) and not shared
    if is_alike and wanted.strip().casefold() in names:
        number = names.index(wanted.strip().casefold())
        if before.channels[number]["unit"] == reading.channels[number]["unit"]:
            return str(reading.channels[number]["name"])
    raise SetupError(
        _("This file has no channel “%(wanted)s”, nor one in its place; set it up by itself.")
        % {"wanted": wanted}
    )
