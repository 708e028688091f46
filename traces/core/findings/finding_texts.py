"""Findings from their wordings in `texts/`: what was noticed, and what to do about it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from string import Formatter
from types import MappingProxyType
from typing import cast, get_args

from engines.core.content import ContentError, content
from shopdiag.people.core.words import Text, say
from traces.core.findings.findings import Finding, Severity

_FOLDER = Path(__file__).parent / "texts"
_FILES = ("capture", "sync", "high_cylinders", "opened_plug", "by_hand", "running", "pressure")


@dataclass(frozen=True, slots=True)
class Wording:
    """One wording of a finding.

    Parameters
    ----------
    severity
        `stop`, `warn` or `note`.
    message, remedy
        What was seen and what to do, with {figures} that are filled in where the finding arises.
    code
        The published code, where several wordings share one; else the wording's own name.
    """

    severity: str
    message: str
    remedy: str
    code: str = ""


@dataclass(frozen=True, slots=True)
class Phrase:
    """What several findings say, and who says so."""

    text: str
    source: str


def _loaded() -> Mapping[str, Wording]:
    found: dict[str, Wording] = {}
    for name in _FILES:
        for wording, text in content(_FOLDER / f"{name}.toml", Wording).items():
            if wording in found:
                raise ContentError(f"{name}.toml: [{wording}] stands in another file too.")
            if text.severity not in get_args(Severity):
                raise ContentError(f"{name}.toml: [{wording}] has an unknown severity.")
            found[wording] = replace(text, code=text.code or wording)
    return MappingProxyType(found)


WORDINGS = _loaded()
PHRASES = MappingProxyType(
    {name: say(phrase.text) for name, phrase in content(_FOLDER / "phrases.toml", Phrase).items()}
)


def finding(
    wording: str,
    *,
    channel: str | None = None,
    from_s: float | None = None,
    to_s: float | None = None,
    **figures: object,
) -> Finding:
    """Make a finding from its wording and the figures that belong into it."""
    text = WORDINGS[wording]
    return Finding(
        code=text.code,
        severity=cast("Severity", text.severity),
        seen=filled(text.message, **figures),
        to_do=filled(text.remedy, **figures),
        channel=channel,
        from_s=from_s,
        to_s=to_s,
    )


def filled(message: str, **figures: object) -> Text:
    """Return a text of a content file with the figures and phrases that it names."""
    known = {**PHRASES, **figures}
    named = dict.fromkeys(name for _, name, _, _ in Formatter().parse(message) if name)
    return say(message, **{name: known[name] for name in named})


def pointing_to(found: Finding, channel: str) -> Finding:
    """Return a finding whose remedy is to choose the channel that looks like cranking current."""
    remedy = say(
        "Channel {channel} looks like cranking current: choose it as the clamp's channel and "
        "analyse again.",
        channel=channel,
    )
    return replace(found, to_do=remedy)


def amps(value_a: float) -> str:
    """Write a current for a sentence."""
    return f"{value_a:.1f} A" if abs(value_a) < 10 else f"{value_a:.0f} A"
