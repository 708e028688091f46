"""What each finding is in the curve, and what it does to the verdict."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from engines.core.content import nested
from shopdiag.people.core.words import gettext as _
from traces.core.findings import Finding
from traces.core.signal_kinds import DEFAULT_SIGNAL, Signal, kind_of

_TEXTS = Path(__file__).parent / "texts" / "explanations.toml"


@dataclass(frozen=True, slots=True)
class Explanation:
    """What a finding is in the curve, and what it does to the verdict.

    Where another signal shows it in another way, its `SignalKind` says so.
    """

    in_the_curve: str
    for_the_verdict: str


EXPLANATIONS: Mapping[tuple[str, str], Explanation] = nested(_TEXTS, Explanation)


def finding_aid(found: Finding, signal: Signal = DEFAULT_SIGNAL) -> tuple[str, ...]:
    """Return what a finding is in the curve, and what it does to the judgement.

    Returns
    -------
    tuple of str
        Two sentences; none for a code that this version does not know.
    """
    text = EXPLANATIONS.get((found.code, found.severity))
    if text is None:
        return ()
    lower = kind_of(signal).lower
    own = lower.in_the_curve.get((found.code, found.severity)) if lower else None
    return _((own or text).in_the_curve), _(text.for_the_verdict)
