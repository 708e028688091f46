"""A running balance in plain words: what each cylinder gives the idling crank.

None of them speaks of compression, which it does not measure.
"""

from shopdiag.people.core.numerals import whole_percent
from shopdiag.people.core.words import Text, gettext_noop, ngettext, say
from shopdiag.people.core.words import gettext as _
from traces.core.findings import cylinders_words, listed, place_letter
from traces.core.report.results import Estimate, Report

RUNNING_LIMITS = say(
    "Relative only: what the cylinders add at idle is compared with each other. It measures no "
    "compression, and what is equal in all of them is invisible here."
)


_GRADES = {
    "even": gettext_noop("even"),
    "weak": gettext_noop("weak"),
    "dead": gettext_noop("adds next to nothing"),
    "comes-and-goes": gettext_noop("comes and goes"),
}


def grade_words(report: Report) -> tuple[str, ...]:
    """Return what each cylinder's contribution is called, in firing sequence."""
    running = report.parts.running
    if running is None or len(running.grades) != len(report.estimates):
        return tuple("" for _estimate in report.estimates)
    return tuple(_(_GRADES.get(grade, grade)) for grade in running.grades)


def running_verdict(report: Report) -> str:
    """Return the verdict as one line: "Uneven at idle: cylinder 3 adds less"."""
    if report.verdict == "not judged":
        return _("Not judged")
    if report.verdict == "even":
        return _("Even at idle: no cylinder adds less")
    which, several = _weak_words(report)
    if several:
        return _("Uneven at idle: {which} add less").format(which=which)
    return _("Uneven at idle: {which} adds less").format(which=which)


def running_sentence(report: Report) -> str:
    """Return the verdict with its figures: "Cylinder 3 adds less at idle: 12 % (0 to 30)"."""
    if report.verdict == "even":
        lowest = min(report.estimates, key=lambda e: e.relative)
        return _("{verdict}. Lowest: {which}, {figure}").format(
            verdict=running_verdict(report),
            which=cylinders_words([lowest.cylinder])
            if report.cylinders_known and lowest.cylinder is not None
            else _("place {place} in firing order").format(place=place_letter(lowest.position)),
            figure=_figure(lowest),
        )
    low = _weak(report)
    figures = ", ".join(_figure(e) for e in low)
    return f"{running_verdict(report)}: {figures}" if low else running_verdict(report)


def _weak(report: Report) -> list[Estimate]:
    return [e for e in report.estimates if e.call == "suspect"]


def _weak_words(report: Report) -> tuple[Text | str, bool]:
    """Return which cylinders add less as far as it is settled, and whether they are several."""
    sets = [c for c in report.candidates if c]
    if len(sets) == 1:
        return cylinders_words(sets[0]), len(sets[0]) > 1
    if len(sets) == 2:
        either = [cylinders_words(c) for c in sets]
        return listed(either, "or"), len(sets[0]) > 1
    places = [place_letter(e.position) for e in _weak(report)]
    words = ngettext(
        "place {places} in firing order", "places {places} in firing order", len(places)
    )
    return words.format(places=listed(places)), len(places) > 1


def _figure(estimate: Estimate) -> str:
    """Return a figure with its interval, and its sign on the same line."""
    figure = _("{figure} % ({low} to {high})").format(
        figure=whole_percent(estimate.relative),
        low=whole_percent(estimate.low),
        high=whole_percent(estimate.high),
    )
    return figure.replace(" %", "\N{NO-BREAK SPACE}%")
