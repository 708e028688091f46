"""A report in plain words, the same on pages, work orders and in the API."""

from shopdiag.people.core.words import NOTHING, Text, ngettext, say, say_count
from shopdiag.people.core.words import gettext as _
from traces.core.findings import cylinders_words, joined, listed, place_letter
from traces.core.report.bank_words import weaker_bank
from traces.core.report.high_cylinders import high_words, is_high, standing_high
from traces.core.report.pressure_words import pressure_verdict
from traces.core.report.results import Report
from traces.core.report.running_words import running_verdict
from traces.core.setup import (
    AnalysisSetup,
    PressureSetup,
    SyncSetup,
    edits_words,
)
from traces.core.signal_kinds import BATTERY, SYNC

LIMITS = say(
    "Relative only: the cylinders are compared with each other. Wear that is equal in all of "
    "them is invisible here, and no pressure in kPa, bar or psi can be read from it."
)


_EVENT_WORDS = {
    "ignition": say("ignition pick-up"),
    "injector": say("injector signal"),
    "cam": say("cam sensor"),
}


def verdict_words(report: Report) -> str:
    """Return the verdict as one line, such as "Uneven: cylinder 3 is low"."""
    if report.is_running:
        return running_verdict(report)
    if report.verdict == "measured":
        return pressure_verdict(report)
    weaker, opened = weaker_bank(report), report.open_cylinder
    words = _with_high(_verdict_of_cylinders(report), report)
    if weaker and report.verdict == "even":
        words = _("{verdict}, but {bank} is weaker as a whole").format(verdict=words, bank=weaker)
    elif weaker:
        words = _("{verdict}, and {bank} is weaker as a whole").format(verdict=words, bank=weaker)
    if opened is not None and report.verdict != "not judged":
        words = _("{verdict}; cylinder {number} had its plug out").format(
            verdict=words, number=opened
        )
    return words


def _with_high(words: str, report: Report) -> str:
    if report.verdict == "not judged" or not is_high(report):
        return words
    high = high_words(report)
    several = len(standing_high(report))
    beside = ngettext("{verdict}, but {high} is high", "{verdict}, but {high} are high", several)
    if report.verdict == "uneven":
        beside = ngettext(
            "{verdict}, and {high} is high", "{verdict}, and {high} are high", several
        )
    return beside.format(verdict=words, high=high)


def _verdict_of_cylinders(report: Report) -> str:
    if report.verdict == "not judged":
        return _("Not judged")
    if report.verdict == "even":
        even = _("Even: no weak cylinder")
        if is_uncertain(report):
            even = _("Even as far as this recording can tell: no weak cylinder")
        watched = _watched(report)
        return (
            _("{verdict}, {which} to watch").format(verdict=even, which=watched)
            if watched
            else even
        )
    sets = [c for c in report.candidates if c]
    if len(sets) == 1:
        return ngettext(
            "Uneven: {cylinders} is low", "Uneven: {cylinders} are low", len(sets[0])
        ).format(cylinders=cylinders_words(sets[0]))
    if len(sets) == 2 and all(len(c) == 1 for c in sets):
        either = listed([c[0] for c in sets], "or")
        return _("Uneven: cylinder {either} is low").format(either=either)
    if len(sets) == 2:
        either = listed([cylinders_words(c) for c in sets], "or")
        return _("Uneven: {either} are low").format(either=either)
    places = [e.position for e in report.estimates if e.call == "suspect"]
    return ngettext(
        "Uneven: place {places} in firing order is low",
        "Uneven: places {places} in firing order are low",
        len(places),
    ).format(places=listed([place_letter(place) for place in places]))


def is_uncertain(report: Report) -> bool:
    """Return whether the verdict rests on intervals that reach from weak to sound, or to a bank."""
    return any(f.code in {"too-uncertain", "bank-uncertain"} for f in report.findings)


def _watched(report: Report) -> Text:
    """Return which cylinders are to be watched; nothing where none is."""
    watched = [e for e in report.estimates if e.call == "watch"]
    known = [e.cylinder for e in watched if e.cylinder is not None]
    if not watched:
        return NOTHING
    if report.cylinders_known and len(known) == len(watched):
        return cylinders_words(sorted(known))
    places = listed([place_letter(e.position) for e in watched])
    return say_count("place {places}", "places {places}", len(watched), places=places)


def _signal_words(setup: AnalysisSetup) -> Text:
    kind = setup.kind
    judged = _on(kind.on_channel, setup.current_channel, kind.channel_part)
    if kind.needs_scale:
        judged = say("{clamp} at {scale} mV/A", clamp=judged, scale=f"{setup.mv_per_a:g}")
    if not setup.voltage_channel:
        return judged
    return joined([judged, _on(say("battery voltage"), setup.voltage_channel, BATTERY)])


def _on(what: Text, channel: str, part: str) -> Text:
    """Return what is on which channel; alone where that is called by its part, as in a case."""
    if channel in (part, part.split(maxsplit=1)[0]):
        return what
    return say("{what} on {channel}", what=what, channel=channel)


def setup_words(setup: AnalysisSetup) -> str:
    """Return a set-up as one line."""
    parts = [say("firing order {order}", order=setup.firing_order), _signal_words(setup)]
    if setup.invert is not None:
        parts.append(say("inverted") if setup.invert else say("not inverted"))
    if setup.kind.shows_one_cylinder:
        parts.append(_transducer_words(setup.pressure))
    else:
        parts.append(_sync_words(setup.sync) if setup.sync else say("no sync"))
    if setup.opened_plug is not None:
        parts.append(say("plug of cylinder {number} out", number=setup.opened_plug))
    if setup.fuel == "diesel":
        parts.append(say("diesel"))
    return "; ".join(map(str, [*parts, *edits_words(setup.hand)]))


def _transducer_words(told: PressureSetup | None) -> Text:
    parts = []
    if told is not None and told.cylinder is not None:
        parts.append(say("transducer in cylinder {number}", number=told.cylinder))
    if told is not None and told.kpa_per_v is not None:
        parts.append(say("{scale} kPa/V", scale=f"{told.kpa_per_v:g}"))
    if told is not None and told.compression_ratio is not None:
        parts.append(say("compression ratio {ratio}", ratio=f"{told.compression_ratio:g}"))
    return joined(parts) if parts else say("no scale")


def _sync_words(sync: SyncSetup) -> Text:
    parts = [
        say(
            "{sync}: {event} of cylinder {cylinder}, every {every} degrees",
            sync=_on(say("sync"), sync.channel, SYNC),
            event=_EVENT_WORDS[sync.event],
            cylinder=sync.cylinder,
            every=sync.every_deg,
        )
    ]
    if sync.bit is not None:
        parts.append(say("bit {bit}", bit=sync.bit))
    if sync.angle_deg is not None:
        angle = f"{sync.angle_deg:.0f}"
        parts.append(say("{angle} degrees from its firing top dead centre", angle=angle))
    return joined(parts)
