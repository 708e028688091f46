"""A report with the angle of an event that the set-up asks to measure."""

from dataclasses import asdict, replace

from traces.core.analysis.event_angle import AngleNotMeasuredError, measure_event_angle
from traces.core.findings import finding
from traces.core.judging import with_findings
from traces.core.report import MeasuredEventAngle, Report
from traces.core.setup import AnalysisSetup, EventToMeasure
from traces.core.waveform import Waveform


def with_measured_event(report: Report, waveform: Waveform, setup: AnalysisSetup) -> Report:
    """Add the angle of the event to measure to a report; its part `event_angle`.

    Parameters
    ----------
    report
        The capture as judged under `setup`.
    waveform
        The recording.
    setup
        With `measured_event`, or a sync of unknown angle beside an opened plug; without either
        the report comes back as it is.

    Returns
    -------
    Report
        With the finding `event-not-measured` where the angle cannot be measured.

    Raises
    ------
    SetupError
        If there is no such channel.
    """
    asked = setup.measured_event or _sync_to_measure(setup)
    if asked is None:
        return report
    try:
        found = measure_event_angle(waveform, setup, report=report, **asdict(asked))
    except AngleNotMeasuredError as error:
        missed = finding("event-not-measured", channel=asked.channel, why=error.why)
        return with_findings(report, [*report.findings, missed])
    angle = MeasuredEventAngle(
        **asdict(found), event=asked.event, cylinder=asked.cylinder, channel=asked.channel
    )
    return replace(report, parts=replace(report.parts, event_angle=angle))


def _sync_to_measure(setup: AnalysisSetup) -> EventToMeasure | None:
    """Return the sync where an opened plug names the cylinders and its own angle is not known."""
    sync = setup.sync
    if setup.opened_plug is None or sync is None or sync.angle_deg is not None:
        return None
    if sync.event == "ignition":
        return None
    return EventToMeasure(sync.channel, sync.event, sync.cylinder, sync.bit)
