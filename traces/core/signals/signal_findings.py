"""The sentences of findings where another signal than the starter current is judged.

Shared checks speak of clamp and current; what they notice is said anew here. Codes stay.
"""

from collections.abc import Sequence
from dataclasses import replace

from shopdiag.people.core.words import Text, say
from traces.core.findings import Finding, Severity, filled, place_words
from traces.core.report import Estimate, Report
from traces.core.setup import AnalysisSetup
from traces.core.signal_kinds import LowerTrust, Signal, kind_of

_CLAMP_ONLY = frozenset({"scale-implausible", "wrong-conductor", "load-on-cable"})
"""Findings about amps, which nobody knows here."""

_LOW_AFTER_ALL = 0.25
"""How far an interval may reach over to the other side of the limit."""


def check_certainty(report: Report, setup: AnalysisSetup) -> list[Finding]:
    """Refuse to guess: a call that its own interval does not carry is none.

    The starter current is warned of only (`verdict_checks`): its intervals are narrow.
    """
    for estimate in report.estimates:
        called = estimate.relative < setup.suspect_below
        if called and estimate.high >= lower_of(setup.signal).sound_from:
            return [_too_uncertain(setup.signal, estimate)]
        if not called and estimate.low < setup.suspect_below - _LOW_AFTER_ALL:
            return [_too_uncertain(setup.signal, estimate)]
    return []


def lower_trust(signal: Signal) -> Finding:
    """Return what every report of another signal carries."""
    return Finding("lower-trust", "warn", lower_of(signal).warning, lower_of(signal).confirm)


def rest_assumed(channel: str, rest_v: float) -> Finding:
    """Say that the recording begins after the rest."""
    return Finding(
        "rest-assumed",
        "warn",
        say(
            "The rest before the crank is not in the recording; {rest_v} V were taken for it.",
            rest_v=f"{rest_v:.1f}",
        ),
        say("Begin recording a second before cranking."),
        channel=channel,
    )


def no_teeth(channel: str, why: Text) -> Finding:
    """Say why edges make no tooth wheel."""
    return Finding(
        "teeth-unclear",
        "stop",
        say("The edges on this channel make no tooth wheel: {why}.", why=why),
        say(
            "Check the channel and the number of teeth, enter teeth and missing "
            "teeth if they are known, or use a clamp on the starter cable."
        ),
        channel=channel,
    )


def lower_of(signal: Signal) -> LowerTrust:
    """Return the words of a signal that is trusted less than the starter current."""
    lower = kind_of(signal).lower
    if lower is None:
        raise ValueError(f"{signal} is trusted fully: nothing is said anew of it.")
    return lower


def _too_uncertain(signal: Signal, estimate: Estimate) -> Finding:
    """Say which figure cannot be called either way."""
    which = place_words(estimate.cylinder, estimate.position)
    shown = lower_of(signal).shown
    low, high = f"{100 * estimate.low:.0f}", f"{100 * estimate.high:.0f}"
    seen = (
        say(
            "The {shown} does not settle whether {which} is low: it may lie anywhere "
            "from {low} to {high} %.",
            shown=shown,
            which=which,
            low=low,
            high=high,
        )
        if kind_of(signal).shows_compressions
        else say(
            "The {shown} does not settle whether {which} adds less: it may add anything "
            "from {low} to {high} %.",
            shown=shown,
            which=which,
            low=low,
            high=high,
        )
    )
    return Finding("too-uncertain", "stop", seen, lower_of(signal).when_unsure)


def anew(signal: Signal, code: str, severity: Severity, channel: str | None = None) -> Finding:
    """Return a finding of another signal by its code."""
    words = lower_of(signal).wordings[code]
    return Finding(code, severity, filled(words.message), filled(words.remedy), channel=channel)


def reworded(findings: Sequence[Finding], signal: Signal) -> list[Finding]:
    """Say shared findings in the words of the signal; those about amps fall away.

    A wrong conductor is what a check of currents makes of a channel without compressions.
    """
    told: list[Finding] = []
    for noticed in findings:
        if noticed.code == "wrong-conductor":
            told.append(anew(signal, "no-signal", "stop", noticed.channel))
        elif noticed.code not in _CLAMP_ONLY:
            told.append(_in_words_of(signal, noticed))
    return told


def _in_words_of(signal: Signal, noticed: Finding) -> Finding:
    is_kept = noticed.code == "low-rate" and noticed.severity == "warn"
    if noticed.code not in lower_of(signal).wordings or is_kept:
        return noticed
    severity: Severity = "stop" if noticed.code == "inverted" else noticed.severity
    said = anew(signal, noticed.code, severity, noticed.channel)
    return replace(noticed, seen=said.seen, to_do=said.to_do, severity=severity)
