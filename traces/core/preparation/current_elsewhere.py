"""Whether another channel than the one entered holds the cranking current."""

from collections.abc import Sequence

from traces.core.crank import find_crank, find_rhythm
from traces.core.findings import Finding, pointing_to
from traces.core.preparation import quality
from traces.core.setup import AnalysisSetup
from traces.core.waveform import Channel, Waveform, condition

_LEAST_CRANK_S = 1.0
_STARTER_A = 30.0
_LEAST_SAMPLES = 50
_FAR_OFF = 1.0  # a channel that rests at more than the crank adds is no clamp's

# what a channel that is not the clamp's is refused with
_CODES = frozenset(
    {"no-signal", "wrong-conductor", "no-compression", "unsteady", "hump-mismatch", "too-short"}
)


def pointed_elsewhere(
    findings: Sequence[Finding], waveform: Waveform, setup: AnalysisSetup, clamp: Channel
) -> list[Finding]:
    """Let the remedy name the channel that should have been entered, where there is one.

    Parameters
    ----------
    findings
        Of a capture that is refused.
    clamp
        The channel that was entered; where it looks like cranking current itself, nothing is
        said of another.
    """
    found = list(findings)
    if not any(f.severity == "stop" and f.code in _CODES for f in found):
        return found
    others = [c for c in waveform.channels if c is not clamp]
    if waveform.rate_hz < quality.LEAST_RATE_HZ:
        return found
    if not others or _looks_like_cranking(waveform, clamp, setup):
        return found
    for other in others:
        if _looks_like_cranking(waveform, other, setup):
            return [
                pointing_to(f, other.name) if f.severity == "stop" and f.code in _CODES else f
                for f in found
            ]
    return found


def _looks_like_cranking(waveform: Waveform, channel: Channel, setup: AnalysisSetup) -> bool:
    """Return whether a channel rises from rest to a starter's current, with humps on it.

    A battery's voltage has humps too, but does not rest at zero; a pick-up rests most of the time.
    """
    if not channel.holds(_LEAST_SAMPLES) or channel.is_flat():
        return False
    conditioned = condition(waveform, channel, setup)
    span = find_crank(conditioned)
    if span is None or not (span.start_seen or span.end_seen) or span.level_a < _STARTER_A:
        return False
    if span.rest_a is not None and abs(span.rest_a) > _FAR_OFF * span.level_a:
        return False
    first, last = conditioned.index_of(span.settled_from_s), conditioned.index_of(span.to_s)
    if last - first < _LEAST_CRANK_S * conditioned.rate_hz:
        return False
    stretch = conditioned.current_a[first : last + 1]
    return find_rhythm(stretch, conditioned.rate_hz, setup, None).seen
