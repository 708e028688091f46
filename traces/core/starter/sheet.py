"""What the measurements are given, and where they put what they find."""

from dataclasses import dataclass, field

from shopdiag.people.core.words import Text, say
from traces.core.crank import CrankSpan
from traces.core.preparation import Preparation
from traces.core.starter.stretch import Stretch
from traces.core.waveform import Conditioned

MID_CRANK = say("The recording begins in mid-crank; start it before the key is turned.")
TOO_SHORT = say("The crank ends before the starter has run up; crank for 5 seconds or more.")
START_LOST = say("The samples of the start are missing.")


@dataclass(frozen=True, slots=True, eq=False)
class StarterSheet:
    """One crank to measure.

    Parameters
    ----------
    done
        The capture, fit to be judged or not.
    conditioned, span
        Its current, and where the starter cranks.
    stretch
        Where mean figures are taken; None where the crank ends in the run-up.
    amps_hidden
        Why amps must not be shown; nothing where they may be.
    """

    done: Preparation
    conditioned: Conditioned
    span: CrankSpan
    stretch: Stretch | None
    amps_hidden: Text

    def has(self, code: str) -> bool:
        """Return whether there is a finding of that code."""
        return any(f.code == code for f in self.done.findings)


@dataclass(slots=True)
class Sheet:
    """Figures as they are found, with reasons and limits."""

    values: dict[str, float] = field(default_factory=dict)
    not_known: dict[str, Text] = field(default_factory=dict)
    limited: dict[str, Text] = field(default_factory=dict)
    inrush_cut_off: bool = False

    def unknown(self, why: Text, *names: str) -> None:
        """Say why figures cannot be known; the first reason stays."""
        for name in names:
            if name not in self.values:
                self.not_known.setdefault(name, why)
