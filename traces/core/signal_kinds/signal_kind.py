"""What the program has to know of a signal to ask for it, judge it, and speak of it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from engines.core.content import content, nested
from shopdiag.people.core.words import Text, say

Floats: TypeAlias = NDArray[np.float64]
Carries: TypeAlias = Literal["current", "voltage", "teeth", "pressure"]
"""What a channel carries, as a file's channels are told apart."""

_TEXTS = Path(__file__).parent / "texts"
_CONFIRM = say("Confirm with a clamp on the starter cable or a compression gauge before any work.")
_CLAMP_TELLS_MORE = say("Record the starter current with a clamp: it tells more.")


@dataclass(frozen=True, slots=True)
class Shown:
    """Words of a signal.

    Parameters
    ----------
    name
        What was judged, with a capital: also the title of the plot.
    axis, unit
        The plot's axis in words, and its unit.
    evidence
        What the evidence picture draws, humps upwards.
    trust
        How far it is trusted, for the facts of a result; empty for the starter current.
    """

    name: str
    axis: str
    unit: str
    evidence: str
    trust: str = ""


@dataclass(frozen=True, slots=True)
class HumpWords:
    """What a compression is called in the curve, and how it shows there."""

    hump: Text
    humps: Text
    needs: Text
    harder: Text
    stands: Text
    has_tops: bool = False


@dataclass(frozen=True, slots=True)
class ComparedAxis:
    """The axis of two mean cycles beside each other.

    Parameters
    ----------
    of_unit, unit
        Of a curve in its unit; nothing where there never is one.
    of_mean
        Of a curve over its mean.
    """

    of_unit: Text
    of_mean: Text
    unit: str


@dataclass(frozen=True, slots=True)
class PlainWords:
    """What the plain reading says it saw; {n} compressions, {low} of them low."""

    alike: Text
    some: Text
    unalike: Text


@dataclass(frozen=True, slots=True)
class SignalWording:
    """What this signal shows in place of what the clamp would, and what to do."""

    message: str
    remedy: str


@dataclass(frozen=True, slots=True)
class InTheCurve:
    """What a finding is in this signal's curve, in place of what it is in the clamp's."""

    in_the_curve: str


@dataclass(frozen=True, slots=True)
class LowerTrust:
    """Of a signal that says less than the starter current.

    Parameters
    ----------
    warning
        The sentence that every report carries.
    shown
        What was judged, within a sentence.
    wordings
        Findings of shared checks in this signal's words, by code.
    in_the_curve
        Explanations of findings in its curve, by code and severity.
    plain
        Of the plain reading; None where there is none.
    sound_from
        Up to where the interval of a low cylinder may reach; beyond, nothing is settled.
    confirm
        What to do before work rests on it.
    when_unsure
        What to do where it does not settle whether a cylinder is low.
    """

    warning: Text
    shown: Text
    wordings: Mapping[str, SignalWording]
    in_the_curve: Mapping[tuple[str, str], InTheCurve]
    plain: PlainWords | None = None
    sound_from: float = 1.0
    confirm: Text = _CONFIRM
    when_unsure: Text = _CLAMP_TELLS_MORE


def wordings_of(name: str) -> Mapping[str, SignalWording]:
    """Return the findings of `texts/<name>.toml`."""
    return content(_TEXTS / f"{name}.toml", SignalWording)


def in_the_curve_of(name: str) -> Mapping[tuple[str, str], InTheCurve]:
    """Return the explanations of `texts/<name>_curve.toml`."""
    return nested(_TEXTS / f"{name}_curve.toml", InTheCurve)


def nothing_more(_part: Mapping[str, Any]) -> dict[str, Any]:
    """Publish nothing of a report's part."""
    return {}


@dataclass(frozen=True, slots=True, eq=False)
class SignalKind:
    """One signal: all that differs from one to the next.

    Parameters
    ----------
    code
        As set-ups, programs and the command line name it.
    carries
        What its channel carries.
    judged_in
        The module that judges it, with `judge` and `prepared` (`analysis.SignalJudge`): named and
        loaded when asked for, because the web process loads no analysis.
    method
        The method of its reports where nothing else judged.
    channel_part
        What its channel is called where nobody's own names go along.
    choice
        What a set-up offers it as.
    on_channel
        What is on the channel, in the line of a set-up; {scale} is the clamp's.
    shown, hump_words, compared
        Its words.
    in_plot
        Turns a fitted cycle, over its mean, into the plot's own unit: takes the cycle, the rest,
        the level and the mean speed in rpm.
    needs_scale
        Whether a scale makes amps of volts.
    needs_order
        Whether nothing can be judged without the firing order.
    asks_wheel
        Whether the set-up asks for the wheel's teeth.
    has_level
        Whether its mean cycle has a level in its unit; one that needs a scale, with that only.
    cycle_in_percent
        Whether its mean cycle is kept in per cent of the mean.
    plots_speed
        Whether its curve is the crank's speed, not the channel as recorded.
    shows_compressions
        Whether it is a crank with compressions in it: only that is pooled, compared, signed and
        learnt from as compression.
    shows_one_cylinder
        Whether it shows one cylinder's compressions only, of which a person says which it is.
    event_reach_deg
        How far from its usual place a sync event may stand; None where half a gap does.
    part, published_part
        The part of a report that only this signal has, and what programs are given of it.
    lower
        None where reports are trusted fully.
    """

    code: str
    carries: Carries
    judged_in: str
    method: str
    channel_part: str
    choice: str
    on_channel: Text
    shown: Shown
    hump_words: HumpWords
    compared: ComparedAxis
    in_plot: Callable[[Floats, float, float, float], Floats]
    needs_scale: bool = False
    needs_order: bool = True
    asks_wheel: bool = False
    has_level: bool = True
    cycle_in_percent: bool = False
    plots_speed: bool = False
    shows_compressions: bool = True
    shows_one_cylinder: bool = False
    event_reach_deg: float | None = None
    part: str = ""
    published_part: Callable[[Mapping[str, Any]], dict[str, Any]] = nothing_more
    lower: LowerTrust | None = None

    @property
    def is_current(self) -> bool:
        """Whether it is a current: checks of amps, sign and inrush ask only this one."""
        return self.carries == "current"

    def in_unit(self, *, scale_known: bool) -> bool:
        """Return whether its mean cycle is known in its unit."""
        return self.has_level and (scale_known or not self.needs_scale)
