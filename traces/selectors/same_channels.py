"""A set-up carried over to another file: which of its channels stand for those it names."""

from dataclasses import replace

from django.utils.translation import gettext as _

from shopdiag.people.core.words import say
from traces.core.proposal import ChannelRoles
from traces.core.setup import NO_EDITS, AnalysisSetup, SetupError
from traces.models import Reading

_NO_CLAMP = ("pulses", "teeth", "pressure", "nothing")
_NO_SYNC = ("current", "voltage", "pressure", "nothing")
ONE_BY_ONE = say(
    "Which cylinder the transducer sat in differs from file to file: set each of them up by itself."
)


def analysis_for(analysis: AnalysisSetup, before: Reading, reading: Reading) -> AnalysisSetup:
    """Return a set-up with the channels that another file has for those it names.

    Channels are taken by name. Where the two files share no name at all, the channel of the same
    number is taken, if both have as many channels and that one has the same unit.

    Raises
    ------
    SetupError
        If the file has no such channel, or is asked which cylinder it shows; one sentence for the
        person.
    """
    if analysis.kind.shows_one_cylinder:
        raise SetupError(str(ONE_BY_ONE))

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


def why_not_alike(analysis: AnalysisSetup, before: Reading, reading: Reading) -> str:
    """Say why a file cannot take a set-up over, by its names and by what its channels show."""
    try:
        there = analysis_for(analysis, before, reading)
    except SetupError as error:
        return str(error)
    if not reading.roles or not analysis.kind.is_current:
        return ""
    shows = ChannelRoles.from_json(reading.roles).shows
    names = [str(c["name"]) for c in reading.channels]
    asked = [(there.current_channel, _NO_CLAMP)]
    asked += [(there.sync.channel, _NO_SYNC)] if there.sync else []
    for name, never in asked:
        if name in names and len(shows) == len(names) and shows[names.index(name)] in never:
            return _(
                "Channel “%(name)s” shows something else in this file; set it up by itself."
            ) % {"name": name}
    return ""


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
