"""Help with reading a curve: why this report's humps look as they do.

An aid about the report is only given where it is true of the report, and says its figures.
"""

from collections.abc import Iterator, Sequence
from statistics import median

from shopdiag.people.core.numerals import whole_percent
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import ngettext
from traces.core.findings import cylinders_words, listed, place_letter
from traces.core.report.aid import Aid
from traces.core.report.bank_words import weaker_bank
from traces.core.report.pressure_aid import pressure_aids
from traces.core.report.results import LOW_CALLS, Estimate, Report
from traces.core.report.running_aid import running_aids
from traces.core.setup import AnalysisSetup
from traces.core.signal_kinds import HumpWords

_READ_HIGHER = 0.05
"""How far plain hump height stands above the fitted figure before it is worth a word."""

_REACHES_HIGHER = 1.05
"""The same for its top, over those of sound cylinders that follow sound ones."""

_LEFT_OUT_S = 0.2
_MOST_NEXT = 3


def reading_aids(report: Report, setup: AnalysisSetup) -> tuple[Aid, ...]:
    """Return what helps to read the curve of this report, the most telling first."""
    return tuple(_aids(report, setup))


def _aids(report: Report, setup: AnalysisSetup) -> Iterator[Aid]:
    words = setup.kind.hump_words
    if report.verdict == "not judged":
        yield _not_judged()
    if not report.shows_compressions:
        yield from _other_aids(report)
        return
    low = [e for e in report.estimates if e.call == "suspect"]
    if low:
        yield _low_humps(low, report, words)
        yield from _next_humps(report, words)
    if report.verdict == "even":
        yield _even(report)
    if report.estimates:
        yield _interval(report, setup)
    if report.estimates and not report.cylinders_known:
        yield _places(setup)
    if len(report.candidates) > 1:
        yield _candidates(report)
    if (begun := _begun_s(report)) is not None:
        yield _first_turns(report, begun)
    if report.inverted:
        yield _inverted()


def _other_aids(report: Report) -> tuple[Aid, ...]:
    if report.is_pressure:
        return pressure_aids(report)
    return running_aids(report) if report.estimates else ()


def _not_judged() -> Aid:
    return Aid(
        _("What “not judged” means"),
        (
            _(
                "The recording does not allow an answer; that is no verdict on the "
                "engine, good or bad."
            ),
            _("What stopped it is named above with what to do, and another crank is quickly made."),
        ),
    )


def _low_humps(low: Sequence[Estimate], report: Report, words: HumpWords) -> Aid:
    names = _listed(low, report)
    figures = ", ".join(
        _(
            "{named} at {hump_relative} by plain height and {relative} once its "
            "neighbours' effect is taken out"
        ).format(
            named=_named(e, report),
            hump_relative=_percent(e.hump_relative),
            relative=_percent(e.relative),
        )
        for e in low
        if e.hump_relative is not None
    )
    sentences = [
        _(
            "While a piston comes up the crank has to work against the pressure "
            "above it. Where gas escapes past a valve, the rings or the gasket, or "
            "less got in, that pressure is lower, and {needs}."
        ).format(needs=words.needs),
    ]
    if figures:
        sentences.append(
            # a share, no directive; xgettext:no-python-format
            _("100 % is a good {hump}: {figures}.").format(hump=words.hump, figures=figures)
        )
    sentences.append(
        _(
            "Where the pressure goes the curve does not say; a compression gauge and "
            "a leak-down test do."
        )
    )
    title = ngettext(
        "Why the {hump} of {names} is low", "Why the {humps} of {names} are low", len(low)
    )
    title = title.format(hump=words.hump, humps=words.humps, names=names)
    return Aid(title, tuple(sentences))


def _next_humps(report: Report, words: HumpWords) -> Iterator[Aid]:
    """Explain each hump after a low one that is read higher than what the model finds."""
    given = 0
    for place, after in enumerate(report.estimates):
        before = report.estimates[place - 1]
        if before is after or before.call not in LOW_CALLS or given == _MOST_NEXT:
            continue
        higher = _higher(after, report, words)
        if not higher:
            continue
        given += 1
        weak, strong = _named(before, report), _named(after, report)
        yield Aid(
            _("Why the next {hump} is high: {strong}").format(hump=words.hump, strong=strong),
            (
                _(
                    "A good cylinder gives most of its work back: the charge it has "
                    "compressed pushes the piston down again and carries the crank into the "
                    "next compression. {weak} takes less on the way up, but has little left "
                    "to push with."
                ).format(weak=_capital(weak)),
                _(
                    "So the crank comes slower into the next compression of the firing "
                    "order, that of {strong}, and {harder}: its {hump} {higher}."
                ).format(
                    strong=strong, harder=words.harder, hump=words.hump, higher=listed(higher)
                ),
                _taken_out(after, strong, words),
            ),
        )


def _higher(after: Estimate, report: Report, words: HumpWords) -> list[str]:
    """Return by what a hump is read higher than the fitted figure; nothing where it is not."""
    told = []
    top = _top_over_others(after, report) if words.has_tops else None
    if top is not None and top >= _REACHES_HIGHER:
        told.append(
            _("reaches {top:.0f} % more current than the other good ones").format(
                top=100 * (top - 1)
            )
        )
    plain = after.hump_relative
    if plain is not None and plain >= after.relative + _READ_HIGHER:
        told.append(
            _("{stands} at {plain} by plain height").format(
                stands=words.stands, plain=_percent(plain)
            )
        )
    return told


def _top_over_others(after: Estimate, report: Report) -> float | None:
    """Return a hump's top over those of sound cylinders that follow sound ones."""
    undisturbed = {
        e.position
        for place, e in enumerate(report.estimates)
        if e.call == "sound" and report.estimates[place - 1].call == "sound" and e is not after
    }
    own = [h.current_a for h in report.humps if h.position == after.position]
    others = [h.current_a for h in report.humps if h.position in undisturbed]
    if not own or not others or median(others) <= 0:
        return None
    return median(own) / median(others)


def _taken_out(after: Estimate, strong: str, words: HumpWords) -> str:
    figure = _("With that effect taken out, {strong} stands at {relative}").format(
        strong=strong, relative=_percent(after.relative)
    )
    if after.call == "sound":
        return _(
            "{figure}: do not read its {hump} as strong compression, nor the others "
            "as weak beside it."
        ).format(figure=figure, hump=words.hump)
    return _("{figure}: it is weaker than its {hump} lets it look.").format(
        figure=figure, hump=words.hump
    )


def _even(report: Report) -> Aid:
    figures = [e.relative for e in report.estimates if e.call != "open"]
    watched = [e for e in report.estimates if e.call == "watch"]
    all_of = (
        _("All {count} cylinders stand between {least} and {most} of what good ones have here")
        if len(figures) == len(report.estimates)
        else _(
            "The other {count} cylinders stand between {least} and {most} of what good ones have "
            "here"
        )
    ).format(count=len(figures), least=_percent(min(figures)), most=_percent(max(figures)))
    behind = _("{figures}, and none falls behind.")
    if watched:
        behind = _("{figures}, and none is low, {which} to watch.")
    weaker = weaker_bank(report)
    if weaker:
        behind = _("{figures}; none is low by itself, but {bank} is weaker as a whole.")
    return Aid(
        _("What “even” cannot say"),
        (
            behind.format(figures=all_of, which=_listed(watched, report), bank=weaker),
            _(
                "Each is only held against the others. If all are worn alike, or the "
                "valve timing is off for all, every one is equally low and the verdict "
                "is still “even”; a compression gauge on one cylinder tells."
            ),
        ),
    )


def _interval(report: Report, setup: AnalysisSetup) -> Aid:
    compared = [e for e in report.estimates if e.call != "open"]
    lowest = min(compared, key=lambda e: e.relative)
    limit = setup.suspect_below
    over = [e for e in compared if e.low < limit < e.high]
    last = _(
        "The limit for “suspect”, {limit}, lies inside of no interval, so another crank would "
        "hardly change which are called so."
    )
    if over:
        last = ngettext(
            "The limit for “suspect”, {limit}, lies inside the interval of {which}: another crank "
            "may call it otherwise, so repeat it.",
            "The limit for “suspect”, {limit}, lies inside the interval of {which}: another crank "
            "may call them otherwise, so repeat it.",
            len(over),
        )
    last = last.format(limit=_percent(limit), which=_listed(over, report))
    return Aid(
        _("What the interval means"),
        (
            _(
                "{which} stands at {relative}, with an interval from {low} to {high}: "
                "in about 95 of 100 cases the true figure should lie in such a range."
            ).format(
                which=_capital(_named(lowest, report)),
                relative=_percent(lowest.relative),
                low=_percent(lowest.low),
                high=_percent(lowest.high),
            ),
            _(
                "It grows where the cycles differ among themselves, and by what the "
                "method is known to miss by."
            ),
            last,
        ),
    )


def _places(setup: AnalysisSetup) -> Aid:
    order = setup.firing_order
    return Aid(
        _("Why places are not cylinders"),
        (
            _(
                "The firing order {order} says which cylinder follows which, but nothing "
                "says with which one the row begins."
            ).format(order=order),
            _(
                "So figures stand by place in the row. Place 1 may be any of the {count} "
                "cylinders; that two low places follow each other, or stand apart, is "
                "certain."
            ).format(count=len(order)),
        ),
    )


def _candidates(report: Report) -> Aid:
    codes = {f.code for f in report.findings}
    why = _("Without a sync the row of humps can begin with several cylinders.")
    if "sync-every-360" in codes:
        why = _(
            "The sync event comes in every crank turn and marks two cylinders, one "
            "of which is on its compression stroke."
        )
    elif "sync-angle-unknown" in codes:
        why = _(
            "Where the sync event stands from top dead centre is not known, so the "
            "row of humps can begin with several cylinders."
        )
    return Aid(
        _("Why {count} sets of cylinders fit").format(count=len(report.candidates)),
        (
            why,
            _(
                "Each set listed is the same low humps laid over the firing order in "
                "another way; exactly one of them is true."
            ),
            _(
                "Open one easy cylinder, fuel and ignition both off, and crank again: "
                "its hump goes altogether, and from that place the firing order can be "
                "counted."
            ),
        ),
    )


def _begun_s(report: Report) -> float | None:
    """Return when the crank began, if a noticeable part of it is not judged."""
    if report.judged_from_s is None or report.starter is None or report.starter.start_s is None:
        return None
    begun_s = report.starter.start_s
    return begun_s if report.judged_from_s - begun_s >= _LEFT_OUT_S else None


def _first_turns(report: Report, begun_s: float) -> Aid:
    left_s = (report.judged_from_s or 0.0) - begun_s
    return Aid(
        _("Why the first turns are left out"),
        (
            _(
                "The crank began at {begun_s:.2f} s, and judging begins {left_s:.1f} s later."
            ).format(begun_s=begun_s, left_s=left_s),
            _(
                "At first the starter draws its inrush to get the standing engine going, "
                "the speed still rises, and some cylinders were half way up when it "
                "began, so that they held less to compress. Humps of that time are not "
                "alike even in a good engine."
            ),
        ),
    )


def _inverted() -> Aid:
    return Aid(
        _("Why the curve was turned over"),
        (
            _(
                "The clamp has an arrow; with it the other way round the same current "
                "reads negative, and humps hang downwards."
            ),
            _("The curve is shown and judged the right way up; its shape is the same."),
        ),
    )


def _named(estimate: Estimate, report: Report) -> str:
    return _listed([estimate], report)


def _listed(estimates: Sequence[Estimate], report: Report) -> str:
    numbers = sorted(e.cylinder for e in estimates if e.cylinder is not None)
    if report.cylinders_known and len(numbers) == len(estimates):
        return str(cylinders_words(numbers))
    places = ngettext("place {places}", "places {places}", len(estimates))
    letters = sorted(place_letter(e.position) for e in estimates)
    return places.format(places=listed(letters))


def _percent(share: float | None) -> str:
    return "–" if share is None else f"{whole_percent(share)} %"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
