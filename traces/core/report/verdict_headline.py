"""The verdict as one sentence with its figures: what the page of a capture says first."""

from collections.abc import Sequence

from shopdiag.people.core.numerals import whole_percent
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import ngettext
from traces.core.findings import listed, place_letter
from traces.core.report.bank_words import weaker_bank
from traces.core.report.high_cylinders import high_words, is_high, standing_high
from traces.core.report.pressure_words import pressure_sentence
from traces.core.report.results import Estimate, Report
from traces.core.report.running_words import running_sentence
from traces.core.report.wording import verdict_words


def verdict_sentence(report: Report) -> str:
    """Return the verdict with figure and interval: "Cylinder 4 is weak: 41 %, between 30 and 52".

    Where sets of cylinders are left open it names no cylinder that the report does not.
    """
    if report.verdict == "measured":
        return pressure_sentence(report)
    if report.verdict == "not judged" or not report.estimates:
        return verdict_words(report)
    if report.is_running:
        return running_sentence(report)
    if report.verdict == "even":
        # one with its plug out was not tested
        tested = [e for e in report.estimates if e.call != "open"] or report.estimates
        lowest = min(tested, key=lambda e: e.relative)
        return _("{verdict}. Lowest: {which}, {figure}").format(
            verdict=verdict_words(report),
            which=_which(lowest, known=report.cylinders_known),
            figure=_figure(lowest),
        )
    weak = _weak(report)
    return _with_the_rest(weak, report) if weak else verdict_words(report)


def _weak(report: Report) -> str:
    """Return what is weak with its figures; "" where calls and sets do not tell the same."""
    low = [e for e in report.estimates if e.call == "suspect"]
    sets = [c for c in report.candidates if c]
    if not low or not sets:
        return ""
    if len(sets) == 1:
        by_number = {e.cylinder: e for e in low if e.cylinder is not None}
        named = sorted(sets[0])
        if set(by_number) != set(named):
            return ""
        low = [by_number[c] for c in named]
        which = listed(named)
        one = _("Cylinder {which} is weak: {figures}")
        several = _("Cylinders {which} are weak: {figures}")
    elif len(sets) == 2 and all(len(c) == 1 for c in sets):
        which = listed([c[0] for c in sets], "or")
        one = several = _("Cylinder {which} is weak: {figures}")
    else:
        which = listed([place_letter(e.position) for e in low])
        one = _("Place {which} in firing order is weak: {figures}")
        several = _("Places {which} in firing order are weak: {figures}")
    sentence = one if len(low) == 1 else several
    return sentence.format(which=which, figures=_figures(low))


def _with_the_rest(weak: str, report: Report) -> str:
    """Add what the verdict names beside weak cylinders."""
    clauses = [weak]
    if is_high(report):
        several = len(standing_high(report)) or 1
        sentence = ngettext("{high} is high", "{high} are high", several)
        clauses.append(sentence.format(high=high_words(report)))
    if bank := weaker_bank(report):
        clauses.append(_("{bank} is weaker as a whole").format(bank=bank))
    if report.open_cylinder is not None:
        clauses.append(_("cylinder {number} had its plug out").format(number=report.open_cylinder))
    return "; ".join(clauses)


def _which(estimate: Estimate, *, known: bool) -> str:
    if known and estimate.cylinder is not None:
        return _("cylinder {number}").format(number=estimate.cylinder)
    return _("place {place} in firing order").format(place=place_letter(estimate.position))


def _figure(estimate: Estimate) -> str:
    return _whole(_("{figure} %, between {low} and {high}").format(**_per_cent(estimate)))


def _figures(estimates: Sequence[Estimate]) -> str:
    """Return figures of one or several cylinders, in their order."""
    if len(estimates) == 1:
        return _figure(estimates[0])
    each = [_whole(_("{figure} % ({low} to {high})").format(**_per_cent(e))) for e in estimates]
    return str(listed(each))


def _whole(figure: str) -> str:
    """Keep a figure and its sign on one line."""
    return figure.replace(" %", "\N{NO-BREAK SPACE}%")


def _per_cent(estimate: Estimate) -> dict[str, str]:
    return {
        "figure": whole_percent(estimate.relative),
        "low": whole_percent(estimate.low),
        "high": whole_percent(estimate.high),
    }
