"""The sentences of findings where another signal than the starter current is judged.

Shared checks speak of clamp and current; what they notice is said anew here. Codes stay.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from traces.core.findings import BAR_OVER, Finding, Severity
from traces.core.report import Estimate
from traces.core.setup import Signal

_AGAIN_VOLTAGE = (
    "Choose the battery's channel, measured at its terminals, and record a crank from the rest "
    "before it on."
)
_AGAIN_TEETH = "Choose the crank sensor's channel and record a crank again."
_CONFIRM = "Confirm with a clamp on the starter cable or a compression gauge before any work."

Words = tuple[str, str]

_ANEW: Mapping[Signal, Mapping[str, Words]] = MappingProxyType(
    {
        "battery-voltage": {
            "no-signal": (
                "The channel shows no battery voltage that sags while the engine is cranked.",
                _AGAIN_VOLTAGE,
            ),
            "inverted": (
                "The voltage rises where a crank would pull it down.",
                _AGAIN_VOLTAGE,
            ),
            "clipped": (
                "The voltage is cut off at its lowest: the dips of the compressions are missing.",
                "Choose a range that holds 6 to 15 V and record again.",
            ),
            "engine-caught": (
                "The engine began to run: the voltage recovers and the dips fall away.",
                "Disable the fuel as the manufacturer specifies, so that the engine cannot start, "
                "then record again.",
            ),
            "no-compression": (
                "The battery voltage hardly rises and falls while cranking: no compressions to "
                "compare.",
                "Check that all plugs are in and the throttle is as usual, and record the starter "
                "current with a clamp, which shows more. If the crank sounded fast and light, the "
                "valve timing may be wrong: do not crank again; " + BAR_OVER,
            ),
            "drift": (
                "The sag changes over the cycles judged, as a battery's does that is not full.",
                "Check that the battery is charged; each dip is measured against its own gaps.",
            ),
            "neighbour-effect": (
                "One dip is deeper than usual because it follows a weak one, which pushes "
                "less: the crank comes slower into the compression.",
                "Do not read it as strong compression, nor the others as weak beside it.",
            ),
        },
        "crank-teeth": {
            "no-signal": (
                "The channel shows no teeth passing a crank sensor.",
                _AGAIN_TEETH,
            ),
            "low-rate": (
                "The wheel has too few teeth to see each compression of this engine.",
                "Use a clamp on the starter cable instead.",
            ),
            "engine-caught": (
                "The engine began to run: it speeds up and the swings of speed change.",
                "Disable the fuel as the manufacturer specifies, so that the engine cannot start, "
                "then record again.",
            ),
            "no-compression": (
                "The crank turns at an almost even speed: no compressions to compare.",
                "Check that all plugs are in and the throttle is as usual. If they are, the valve "
                "timing may be wrong: do not crank again; " + BAR_OVER,
            ),
            "drift": (
                "The speed changes over the cycles judged.",
                "Check that the battery is charged; each compression is measured against its own "
                "gaps.",
            ),
            "neighbour-effect": (
                "The crank slows more than usual at one compression because it follows a weak "
                "one, which pushes less.",
                "Do not read it as strong compression, nor the others as weak beside it.",
            ),
        },
    }
)

_SHOWN: Mapping[Signal, str] = MappingProxyType(
    {"battery-voltage": "battery voltage", "crank-teeth": "crank speed"}
)

_CLAMP_ONLY = frozenset({"scale-implausible", "wrong-conductor", "load-on-cable"})
"""Findings about amps, which nobody knows here."""

_LOWER_TRUST: Mapping[Signal, str] = MappingProxyType(
    {
        "battery-voltage": "This is judged from the battery voltage and trusted less than the "
        "starter current: the battery and other loads show in it too.",
        "crank-teeth": "This is judged from the crank sensor's teeth and trusted less than the "
        "starter current: while the crank runs ahead of the starter, speed says less.",
    }
)


def lower_trust(signal: Signal) -> Finding:
    """Return what every report of another signal carries."""
    return Finding("lower-trust", "warn", _LOWER_TRUST[signal], _CONFIRM)


def rest_assumed(channel: str, rest_v: float) -> Finding:
    """Say that the recording begins after the rest."""
    return Finding(
        "rest-assumed",
        "warn",
        f"The rest before the crank is not in the recording; {rest_v:.1f} V were taken for it.",
        "Begin recording a second before cranking.",
        channel=channel,
    )


def no_teeth(channel: str, why: str) -> Finding:
    """Say why edges make no tooth wheel."""
    return Finding(
        "teeth-unclear",
        "stop",
        f"The edges on this channel make no tooth wheel: {why}.",
        "Check the channel and the number of teeth, enter teeth and missing teeth if they are "
        "known, or use a clamp on the starter cable.",
        channel=channel,
    )


def too_uncertain(signal: Signal, estimate: Estimate) -> Finding:
    """Say which figure cannot be called either way."""
    which = (
        f"position {estimate.position}"
        if estimate.cylinder is None
        else f"cylinder {estimate.cylinder}"
    )
    shown = _SHOWN[signal]
    return Finding(
        "too-uncertain",
        "stop",
        f"The {shown} does not settle whether {which} is low: it may lie anywhere from "
        f"{100 * estimate.low:.0f} to {100 * estimate.high:.0f} %.",
        "Record the starter current with a clamp: it tells more.",
    )


def anew(signal: Signal, code: str, severity: Severity, channel: str | None = None) -> Finding:
    """Return a finding of another signal by its code."""
    message, remedy = _ANEW[signal][code]
    return Finding(code, severity, message, remedy, channel=channel)


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
    words = _ANEW[signal].get(noticed.code)
    if words is None or (noticed.code == "low-rate" and noticed.severity == "warn"):
        return noticed
    severity: Severity = "stop" if noticed.code == "inverted" else noticed.severity
    return replace(noticed, message=words[0], remedy=words[1], severity=severity)
