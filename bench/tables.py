"""Figures of the bench as Markdown tables."""

import math
import statistics
from collections import Counter
from collections.abc import Mapping, Sequence

from bench.captures import FAMILIES, HARMLESS
from bench.cost import Cost
from bench.running import METHODS
from bench.scoring import ScoredOutcome, score
from traces.simulator.scenarios import FAULTS

_JUDGES = METHODS[-1].name
"""The method that judges by default; the one before it stands beside."""

_TITLES: Mapping[str, str] = {"humps": "hump method", "twin": "twin"}


def tables(outcomes: Sequence[ScoredOutcome], costs: Sequence[Cost]) -> dict[str, str]:
    """Return every table by its name, those without a row left out."""
    made = {
        "good": good(_of(outcomes, part="good")),
        "faults": faults(_of(outcomes, part="good", method=_JUDGES)),
        "refusals": refusals(_of(outcomes, part="good", method=_JUDGES)),
        "flawed": flawed(_of(outcomes, part="flawed")),
        "hard": hard(_of(outcomes, part="hard")),
        "cost": cost(costs, outcomes),
    }
    return {name: text for name, text in made.items() if text}


def good(outcomes: Sequence[ScoredOutcome]) -> str:
    """Both methods on captures without a flaw, by family."""
    rows = []
    for family in FAMILIES:
        for method in METHODS:
            s = score(_of(outcomes, family=family, method=method.name))
            if s.captures:
                rows.append(
                    (
                        family,
                        _title(method.name),
                        f"{s.judged} of {s.captures}",
                        percent(s.right),
                        str(s.left_open),
                        points(s.rms),
                        points(s.largest, 0),
                        f"{s.false_calls} of {s.sound}",
                        percent(s.inside),
                        points(s.width),
                        percent(s.refused),
                    )
                )
    return table(
        (
            "family",
            "method",
            "judged",
            "set right",
            "left open",
            "RMS, points",
            "largest",
            "false calls on sound",
            "truth in interval",
            "width of interval",
            "not judged",
        ),
        rows,
    )


def faults(outcomes: Sequence[ScoredOutcome]) -> str:
    """RMS error and width of the interval by fault, family beside family."""
    rows = []
    for fault in FAULTS:
        of_it = [score(_of(outcomes, fault=fault, family=family)) for family in FAMILIES]
        if any(s.judged for s in of_it):
            rows.append((fault, *(points(s.rms) for s in of_it), *(points(s.width) for s in of_it)))
    heads = ("fault", *(f"RMS, {f}" for f in FAMILIES), *(f"width, {f}" for f in FAMILIES))
    return table(heads, rows)


def refusals(outcomes: Sequence[ScoredOutcome]) -> str:
    """How many captures without a flaw each code kept from being judged."""
    by_family = [_codes(_of(outcomes, family=family)) for family in FAMILIES]
    codes = sorted(set().union(*by_family), key=lambda c: -sum(n[c] for n in by_family))
    rows = [(code, *(str(n[code]) for n in by_family)) for code in codes]
    return table(("code", *FAMILIES), rows)


def flawed(outcomes: Sequence[ScoredOutcome]) -> str:
    """How many captures of each flaw were judged, and by which code the others were refused."""
    return table(
        ("flaw", "may be judged", *(_title(m.name) for m in METHODS), "codes"),
        [
            (
                kind,
                "yes" if kind in HARMLESS else "no",
                *(_judged(_of(outcomes, kind=kind, method=m.name)) for m in METHODS),
                _told(_of(outcomes, kind=kind, method=_JUDGES)),
            )
            for kind in _kinds(outcomes)
        ],
    )


def hard(outcomes: Sequence[ScoredOutcome]) -> str:
    """Sound recordings of engines and pick-ups that are hard to judge."""
    beside = METHODS[0].name
    rows = []
    for kind in _kinds(outcomes):
        of_it = _of(outcomes, kind=kind, method=_JUDGES)
        s, other = score(of_it), score(_of(outcomes, kind=kind, method=beside))
        rows.append(
            (
                kind,
                _judged(of_it),
                percent(s.right, 0),
                percent(other.right, 0),
                points(s.rms),
                points(other.rms),
                f"{s.false_calls} of {s.sound}",
                percent(s.inside, 0),
                _told(of_it),
            )
        )
    judge, next_to_it = _title(_JUDGES), _title(beside)
    return table(
        (
            "hard by",
            "judged",
            f"set right, {judge}",
            next_to_it,
            f"RMS, {judge}",
            next_to_it,
            "false calls",
            "truth in interval",
            "codes",
        ),
        rows,
    )


def cost(costs: Sequence[Cost], outcomes: Sequence[ScoredOutcome]) -> str:
    """Time and peak memory beside pandas, and the analysis alone over all captures."""
    rows = [
        (
            c.name,
            f"{c.pandas_s:.3f} s",
            f"{c.reading_s:.3f} s",
            f"{c.analysis_s:.3f} s",
            f"{(c.reading_s + c.analysis_s) / c.pandas_s:.1f}",
            f"{c.whole_mb / c.pandas_mb:.2f}",
        )
        for c in costs
    ]
    if not rows:
        return ""
    heads = (
        "capture",
        "pandas reads",
        "reading",
        "analysis",
        "whole over pandas",
        "peak memory over pandas",
    )
    alone = "; ".join(
        f"{_title(m.name)} {1000 * statistics.median(times):.0f} ms"
        for m in METHODS
        if (times := [o.seconds for o in _of(outcomes, method=m.name)])
    )
    said = f"Analysis alone, median processor time over all captures: {alone}." if alone else ""
    return f"{table(heads, rows)}\n\n{said}".rstrip()


def wrong(outcomes: Sequence[ScoredOutcome]) -> str:
    """Name the captures whose set of low cylinders was not right."""
    named = [
        f"{o.layout} {o.fault}{f' {o.kind}' if o.kind else ''} (family {o.family}, seed {o.seed})"
        for o in score(_of(outcomes, method=_JUDGES)).wrong
        if o.part != "flawed"
    ]
    return "; ".join(named) or "none"


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a Markdown table; nothing without rows."""
    if not rows:
        return ""
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def percent(share: float, digits: int = 1) -> str:
    """Return a share as per cent, a dash where there is none."""
    return "–" if math.isnan(share) else f"{100 * share:.{digits}f} %"


def points(relative: float, digits: int = 1) -> str:
    """Return relative compression in points, a dash where there is none."""
    return "–" if math.isnan(relative) else f"{100 * relative:.{digits}f}"


def _title(method: str) -> str:
    return _TITLES.get(method, method)


def _of(outcomes: Sequence[ScoredOutcome], **wanted: str) -> list[ScoredOutcome]:
    return [o for o in outcomes if all(getattr(o, k) == v for k, v in wanted.items())]


def _kinds(outcomes: Sequence[ScoredOutcome]) -> list[str]:
    return list(dict.fromkeys(o.kind for o in sorted(outcomes, key=lambda o: o.seed)))


def _codes(outcomes: Sequence[ScoredOutcome]) -> Counter[str]:
    return Counter(code for o in outcomes for code in set(o.stops))


def _told(outcomes: Sequence[ScoredOutcome]) -> str:
    return ", ".join(f"{code} {n}" for code, n in _codes(outcomes).most_common())


def _judged(outcomes: Sequence[ScoredOutcome]) -> str:
    return f"{sum(o.judged for o in outcomes)} of {len(outcomes)}"
