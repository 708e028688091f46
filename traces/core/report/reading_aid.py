"""Help with reading a curve: what findings mean, and why this report's humps look as they do.

An aid about the report is only given where it is true of the report, and says its figures.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from engines.core.content import nested
from traces.core.findings import Finding, cylinders_words, listed
from traces.core.report.results import LOW_CALLS, Estimate, Report
from traces.core.setup import AnalysisSetup, Signal

_TEXTS = Path(__file__).parent / "texts" / "explanations.toml"


@dataclass(frozen=True, slots=True)
class Explanation:
    """What a finding is in the curve, and what it does to the verdict.

    Where another signal shows it in another way, its own text takes the place of `in_the_curve`.
    """

    in_the_curve: str
    for_the_verdict: str
    battery_voltage: str = ""
    crank_teeth: str = ""


EXPLANATIONS: Mapping[tuple[str, str], Explanation] = nested(_TEXTS, Explanation)

_READ_HIGHER = 0.05
"""How far plain hump height stands above the fitted figure before it is worth a word."""

_REACHES_HIGHER = 1.05
"""The same for its top, over those of sound cylinders that follow sound ones."""

_LEFT_OUT_S = 0.2
_MOST_NEXT = 3


@dataclass(frozen=True, slots=True)
class Aid:
    """One question about a curve and its answer, a few sentences."""

    title: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Words:
    """How a signal shows a compression."""

    hump: str
    humps: str
    needs: str
    harder: str
    stands: str
    has_tops: bool = False


_WORDS: dict[Signal, _Words] = {
    "starter-current": _Words(
        "hump",
        "humps",
        "the starter needs less current",
        "the starter has to pull harder there",
        "stands",
        has_tops=True,
    ),
    "battery-voltage": _Words(
        "dip",
        "dips",
        "the battery is pulled down less",
        "the battery is pulled down further there",
        "is",
    ),
    "crank-teeth": _Words(
        "dip of speed", "dips of speed", "the crank slows less", "the crank slows more there", "is"
    ),
}


def finding_aid(found: Finding, signal: Signal = "starter-current") -> tuple[str, ...]:
    """Return what a finding is in the curve, and what it does to the judgement.

    Returns
    -------
    tuple of str
        Two sentences; none for a code that this version does not know.
    """
    text = EXPLANATIONS.get((found.code, found.severity))
    if text is None:
        return ()
    seen = {"battery-voltage": text.battery_voltage, "crank-teeth": text.crank_teeth}
    return seen.get(signal) or text.in_the_curve, text.for_the_verdict


def reading_aids(report: Report, setup: AnalysisSetup) -> tuple[Aid, ...]:
    """Return what helps to read the curve of this report, the most telling first."""
    return tuple(_aids(report, setup))


def _aids(report: Report, setup: AnalysisSetup) -> Iterator[Aid]:
    words = _WORDS[setup.signal]
    if report.verdict == "not judged":
        yield _not_judged()
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


def _not_judged() -> Aid:
    return Aid(
        "What “not judged” means",
        (
            "The recording does not allow an answer; that is no verdict on the engine, good or "
            "bad.",
            "What stopped it is named above with what to do, and another crank is quickly made.",
        ),
    )


def _low_humps(low: Sequence[Estimate], report: Report, words: _Words) -> Aid:
    names = _listed(low, report)
    figures = ", ".join(
        f"{_named(e, report)} at {_percent(e.hump_relative)} by plain height and "
        f"{_percent(e.relative)} once its neighbours' effect is taken out"
        for e in low
        if e.hump_relative is not None
    )
    sentences = [
        "While a piston comes up the crank has to work against the pressure above it. Where gas "
        f"escapes past a valve, the rings or the gasket, or less got in, that pressure is lower, "
        f"and {words.needs}.",
    ]
    if figures:
        sentences.append(f"100 % is a good {words.hump}: {figures}.")
    sentences.append(
        "Where the pressure goes the curve does not say; a compression gauge and a leak-down test "
        "do."
    )
    humps = f"{words.humps} of {names} are" if len(low) > 1 else f"{words.hump} of {names} is"
    return Aid(f"Why the {humps} low", tuple(sentences))


def _next_humps(report: Report, words: _Words) -> Iterator[Aid]:
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
            f"Why the next {words.hump} is high: {strong}",
            (
                f"A good cylinder gives most of its work back: the charge it has compressed "
                f"pushes the piston down again and carries the crank into the next compression. "
                f"{_capital(weak)} takes less on the way up, but has little left to push with.",
                f"So the crank comes slower into the next compression of the firing order, that "
                f"of {strong}, and {words.harder}: its {words.hump} {' and '.join(higher)}.",
                _taken_out(after, strong, words),
            ),
        )


def _higher(after: Estimate, report: Report, words: _Words) -> list[str]:
    """Return by what a hump is read higher than the fitted figure; nothing where it is not."""
    told = []
    top = _top_over_others(after, report) if words.has_tops else None
    if top is not None and top >= _REACHES_HIGHER:
        told.append(f"reaches {100 * (top - 1):.0f} % more current than the other good ones")
    plain = after.hump_relative
    if plain is not None and plain >= after.relative + _READ_HIGHER:
        told.append(f"{words.stands} at {_percent(plain)} by plain height")
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


def _taken_out(after: Estimate, strong: str, words: _Words) -> str:
    figure = f"With that effect taken out, {strong} stands at {_percent(after.relative)}"
    if after.call == "sound":
        return (
            f"{figure}: do not read its {words.hump} as strong compression, nor the others as "
            "weak beside it."
        )
    return f"{figure}: it is weaker than its {words.hump} lets it look."


def _even(report: Report) -> Aid:
    figures = [e.relative for e in report.estimates if e.call != "open"]
    watched = [e for e in report.estimates if e.call == "watch"]
    all_of = "All" if len(figures) == len(report.estimates) else "The other"
    behind = f"none is low, {_listed(watched, report)} to watch" if watched else "none falls behind"
    return Aid(
        "What “even” cannot say",
        (
            f"{all_of} {len(figures)} cylinders stand between {_percent(min(figures))} and "
            f"{_percent(max(figures))} of what good ones have here, and {behind}.",
            "Each is only held against the others. If all are worn alike, or the valve timing is "
            "off for all, every one is equally low and the verdict is still “even”; a compression "
            "gauge on one cylinder tells.",
        ),
    )


def _interval(report: Report, setup: AnalysisSetup) -> Aid:
    compared = [e for e in report.estimates if e.call != "open"]
    lowest = min(compared, key=lambda e: e.relative)
    limit = setup.suspect_below
    over = [e for e in compared if e.low < limit < e.high]
    last = (
        f"The limit for “suspect”, {_percent(limit)}, lies inside of no interval, so another crank "
        "would hardly change which are called so."
    )
    if over:
        last = (
            f"The limit for “suspect”, {_percent(limit)}, lies inside the interval of "
            f"{_listed(over, report)}: another crank may call "
            f"{'it' if len(over) == 1 else 'them'} otherwise, so repeat it."
        )
    return Aid(
        "What the interval means",
        (
            f"{_capital(_named(lowest, report))} stands at {_percent(lowest.relative)}, with an "
            f"interval from {_percent(lowest.low)} to {_percent(lowest.high)}: in about 95 of 100 "
            "cases the true figure should lie in such a range.",
            "It grows where the cycles differ among themselves, and by what the method is known "
            "to miss by.",
            last,
        ),
    )


def _places(setup: AnalysisSetup) -> Aid:
    order = setup.firing_order
    return Aid(
        "Why places are not cylinders",
        (
            f"The firing order {order} says which cylinder follows which, but nothing says with "
            "which one the row begins.",
            f"So figures stand by place in the row. Place 1 may be any of the {len(order)} "
            "cylinders; that two low places follow each other, or stand apart, is certain.",
        ),
    )


def _candidates(report: Report) -> Aid:
    codes = {f.code for f in report.findings}
    why = "Without a sync the row of humps can begin with several cylinders."
    if "sync-every-360" in codes:
        why = (
            "The sync event comes in every crank turn and marks two cylinders, one of which is on "
            "its compression stroke."
        )
    elif "sync-angle-unknown" in codes:
        why = (
            "Where the sync event stands from top dead centre is not known, so the row of humps "
            "can begin with several cylinders."
        )
    return Aid(
        f"Why {len(report.candidates)} sets of cylinders fit",
        (
            why,
            "Each set listed is the same low humps laid over the firing order in another way; "
            "exactly one of them is true.",
            "Open one easy cylinder, fuel and ignition both off, and crank again: its hump goes "
            "altogether, and from that place the firing order can be counted.",
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
        "Why the first turns are left out",
        (
            f"The crank began at {begun_s:.2f} s, and judging begins {left_s:.1f} s later.",
            "At first the starter draws its inrush to get the standing engine going, the speed "
            "still rises, and some cylinders were half way up when it began, so that they held "
            "less to compress. Humps of that time are not alike even in a good engine.",
        ),
    )


def _inverted() -> Aid:
    return Aid(
        "Why the curve was turned over",
        (
            "The clamp has an arrow; with it the other way round the same current reads negative, "
            "and humps hang downwards.",
            "The curve is shown and judged the right way up; its shape is the same.",
        ),
    )


def _named(estimate: Estimate, report: Report) -> str:
    kind = "cylinder" if report.cylinders_known else "place"
    return f"{kind} {_number(estimate, report)}"


def _number(estimate: Estimate, report: Report) -> int:
    known = report.cylinders_known and estimate.cylinder is not None
    return estimate.cylinder if known and estimate.cylinder else estimate.position


def _listed(estimates: Sequence[Estimate], report: Report) -> str:
    numbers = sorted(_number(e, report) for e in estimates)
    if report.cylinders_known:
        return cylinders_words(numbers)
    return f"place{'s' if len(numbers) > 1 else ''} {listed(numbers)}"


def _percent(share: float | None) -> str:
    return "–" if share is None else f"{100 * share:.0f} %"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
