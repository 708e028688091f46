"""What a signal's own module does: judge a capture, and prepare it again."""

from importlib import import_module
from typing import Protocol, cast

from traces.core.preparation import Prepared
from traces.core.report import Report
from traces.core.setup import AnalysisSetup
from traces.core.signal_kinds import SignalKind
from traces.core.waveform import Waveform


class SignalJudge(Protocol):
    """The module that `SignalKind.judged_in` names."""

    def judge(self, waveform: Waveform, setup: AnalysisSetup) -> Report:
        """Judge a capture by this signal, in the words of shared checks."""

    def prepared(self, waveform: Waveform, setup: AnalysisSetup) -> Prepared | None:
        """Return what a method is given of the capture; None where it cannot be judged."""


def judge_of(kind: SignalKind) -> SignalJudge:
    """Return the module that judges a signal."""
    return cast("SignalJudge", import_module(kind.judged_in))
