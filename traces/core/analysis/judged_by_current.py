"""Starter current judged: the fitted twin."""

from traces.core.judging import analyse
from traces.core.preparation import Prepared, prepare
from traces.core.report import Report
from traces.core.setup import AnalysisSetup
from traces.core.waveform import Waveform


def judge(waveform: Waveform, setup: AnalysisSetup) -> Report:
    """Judge a capture of the starter's current."""
    return analyse(waveform, setup)


def prepared(waveform: Waveform, setup: AnalysisSetup) -> Prepared | None:
    """Return what a method is given of the capture; None where it cannot be judged."""
    return prepare(waveform, setup).prepared
