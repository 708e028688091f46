"""A report in plain words, the same on pages, work orders and in the API."""

from collections.abc import Sequence

from traces.core.findings import cylinders_words, listed, numbered
from traces.core.report.bank_words import weaker_bank
from traces.core.report.results import Report
from traces.core.setup import BATTERY, CLAMP, CRANK_SENSOR, SYNC, AnalysisSetup, edits_words

LIMITS = (
    "Relative only: the cylinders are compared with each other. Wear that is equal in all of "
    "them is invisible here, and no pressure in kPa, bar or psi can be read from it."
)


_EVENT_WORDS = {
    "ignition": "ignition pick-up",
    "injector": "injector signal",
    "cam": "cam sensor",
}


def verdict_words(report: Report) -> str:
    """Return the verdict as one line, such as "Uneven: cylinder 3 is low"."""
    weaker, opened = weaker_bank(report), report.open_cylinder
    words = _verdict_of_cylinders(report)
    if weaker:
        but = "but" if report.verdict == "even" else "and"
        words += f", {but} {weaker} is weaker as a whole"
    if opened is not None and report.verdict != "not judged":
        words += f"; cylinder {opened} had its plug out"
    return words


def _verdict_of_cylinders(report: Report) -> str:
    if report.verdict == "not judged":
        return "Not judged"
    if report.verdict == "even":
        reach = " as far as this recording can tell" if is_uncertain(report) else ""
        return f"Even{reach}: no weak cylinder{_to_watch(report)}"
    sets = [c for c in report.candidates if c]
    if len(sets) == 1:
        return f"Uneven: {cylinders_words(sets[0])} {_are(sets[0])} low"
    if len(sets) == 2 and all(len(c) == 1 for c in sets):
        return f"Uneven: cylinder {listed([c[0] for c in sets], 'or')} is low"
    if len(sets) == 2:
        return f"Uneven: {listed([cylinders_words(c) for c in sets], 'or')} are low"
    places = [e.position for e in report.estimates if e.call == "suspect"]
    return (
        f"Uneven: the {listed([numbered(place) for place in places])} in firing sequence "
        f"{_are(places)} low"
    )


def is_uncertain(report: Report) -> bool:
    """Return whether the verdict rests on intervals that reach from weak to sound."""
    return any(f.code == "too-uncertain" for f in report.findings)


def _to_watch(report: Report) -> str:
    watched = [e for e in report.estimates if e.call == "watch"]
    if not watched:
        return ""
    known = [e.cylinder for e in watched if e.cylinder is not None]
    if report.cylinders_known and len(known) == len(watched):
        return f", {cylinders_words(sorted(known))} to watch"
    places = [e.position for e in watched]
    return f", the {listed([numbered(place) for place in places])} in firing sequence to watch"


def _are(items: Sequence[object]) -> str:
    return "is" if len(items) == 1 else "are"


def _signal_words(setup: AnalysisSetup) -> str:
    if setup.signal == "battery-voltage":
        return f"battery voltage{_on(setup.current_channel, BATTERY)}"
    if setup.signal == "crank-teeth":
        return f"crank sensor's teeth{_on(setup.current_channel, CRANK_SENSOR)}"
    beside = ""
    if setup.voltage_channel:
        beside = f", battery voltage{_on(setup.voltage_channel, BATTERY)}"
    return f"clamp{_on(setup.current_channel, CLAMP)} at {setup.mv_per_a:g} mV/A{beside}"


def _on(channel: str, part: str) -> str:
    """Return on which channel; nothing where it is called by its part, as in a case."""
    return "" if channel in (part, part.split(maxsplit=1)[0]) else f" on {channel}"


def setup_words(setup: AnalysisSetup) -> str:
    """Return a set-up as one line."""
    parts = [
        f"firing order {setup.firing_order}",
        _signal_words(setup),
    ]
    if setup.invert is not None:
        parts.append("inverted" if setup.invert else "not inverted")
    if setup.sync:
        bit = "" if setup.sync.bit is None else f", bit {setup.sync.bit}"
        angle = ""
        if setup.sync.angle_deg is not None:
            angle = f", {setup.sync.angle_deg:.0f} degrees from its firing top dead centre"
        parts.append(
            f"sync{_on(setup.sync.channel, SYNC)}: {_EVENT_WORDS[setup.sync.event]} of cylinder "
            f"{setup.sync.cylinder}, every {setup.sync.every_deg} degrees{bit}{angle}"
        )
    else:
        parts.append("no sync")
    if setup.opened_plug is not None:
        parts.append(f"plug of cylinder {setup.opened_plug} out")
    if setup.fuel == "diesel":
        parts.append("diesel")
    parts += edits_words(setup.hand)
    return "; ".join(parts)
