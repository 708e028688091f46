"""The way in: judge a capture by whichever signal its channel shows."""

from dataclasses import replace
from functools import cache

from threadpoolctl import ThreadpoolController

from traces.core.analysis.signal_judge import judge_of
from traces.core.findings import finding
from traces.core.judging import with_findings
from traces.core.preparation import channel_named
from traces.core.report import Report
from traces.core.setup import SAME_CHANNEL, AnalysisSetup, SetupError
from traces.core.signals import check_certainty, lower_trust, reworded, with_sync_bit
from traces.core.waveform import Waveform

_LONGEST_S = 6 * 3600.0
"""No crank lasts as long; time and memory of an analysis grow with the recording's length."""


def judge(waveform: Waveform, setup: AnalysisSetup) -> Report:
    """Judge the compression balance of a capture by the signal that `setup` names.

    Parameters
    ----------
    waveform
        The recording; holds the channels that `setup` names.
    setup
        Engine, signal, sync and limits.

    Returns
    -------
    Report
        `not judged` with a stop finding wherever the capture does not allow a verdict.

    Raises
    ------
    SetupError
        If the recording has no channel of the name entered, or the sync no such bit.
    """
    with _blas().limit(limits=1):
        return _judge(waveform, setup)


@cache
def _blas() -> ThreadpoolController:
    """Return the linear algebra libraries that are loaded.

    The twin's matrices are tiny: threads of theirs cost a third of the processor time, whatever
    the environment says.
    """
    return ThreadpoolController().select(user_api="blas")


def _judge(waveform: Waveform, setup: AnalysisSetup) -> Report:
    waveform = with_sync_bit(waveform, setup)
    if waveform.duration_s > _LONGEST_S:
        hours = f"{waveform.duration_s / 3600:.3g}"
        return Report.refused(finding("too-long", hours=hours), setup.kind.method)
    if setup.kind.lower is None:
        return judge_of(setup.kind).judge(waveform, setup)
    channel = channel_named(waveform, setup.current_channel)
    if setup.sync and channel_named(waveform, setup.sync.channel) is channel:
        raise SetupError(SAME_CHANNEL)
    report = judge_of(setup.kind).judge(waveform, setup)
    findings = [lower_trust(setup.signal), *reworded(report.findings, setup.signal)]
    if refused := check_certainty(report, setup):
        # which of the figures is uncertain is no matter where none is given
        findings = [*(f for f in findings if f.code != "too-uncertain"), *refused]
    empty = [f for f in findings if f.code == "no-compression"]
    if empty:
        # nothing to compare explains whatever else would keep it from being judged
        findings = [empty[0], *(f for f in findings if f.severity != "stop")]
    if any(f.severity == "stop" for f in findings):
        report = replace(report, verdict="not judged", estimates=(), candidates=())
    return with_findings(report, findings)
