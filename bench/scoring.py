"""What counts as right, and how figures over many captures are summed up."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from traces.core.plain_json import PlainJson
from traces.core.report import Report
from traces.simulator.simulate import Simulated

LOW_BELOW = 0.80
GREY = (0.75, 0.87)
"""Cylinders whose truth lies here may be called either way."""

_EVEN_FAULTS = ("none", "all", "late-cam")


@dataclass(frozen=True, slots=True)
class ScoredOutcome(PlainJson):
    """One capture judged by one method.

    Parameters
    ----------
    part, kind
        Part of the bench, and the flaw or hard kind within it; “” for good captures.
    seconds
        Processor time of the analysis.
    judged
        Whether there was a verdict.
    stops
        Codes of the stop findings.
    right
        Whether exactly the low cylinders were called, the grey zone left out; with several
        candidates, whether one of them is right. None where not judged.
    left_open
        Whether it is not right only because a low figure was too uncertain to accuse anyone
        (`too-uncertain`): the report says so, so that it is neither right nor wrong.
    false_call
        Whether a cylinder of an engine without low or grey ones was called low.
    truths, errors, widths, inside
        Of each cylinder whose number is known: its truth, figure minus truth, width of the
        interval, and whether that holds the truth.
    """

    method: str
    part: str
    kind: str
    family: str
    layout: str
    fault: str
    seed: int
    seconds: float
    judged: bool
    stops: tuple[str, ...] = ()
    right: bool | None = None
    left_open: bool = False
    false_call: bool = False
    truths: tuple[float, ...] = ()
    errors: tuple[float, ...] = ()
    widths: tuple[float, ...] = ()
    inside: tuple[bool, ...] = ()


def outcome(
    simulated: Simulated, report: Report, part: str = "good", seconds: float = 0.0
) -> ScoredOutcome:
    """Compare a report with the truth of its capture."""
    scenario, truth = simulated.scenario, simulated.truth
    flaws = scenario.flaws.names
    about: dict[str, Any] = {
        "method": report.method,
        "part": part,
        "kind": flaws[0] if flaws else scenario.hard,
        "family": scenario.family,
        "layout": truth.layout,
        "fault": truth.fault,
        "seed": scenario.seed,
        "seconds": seconds,
    }
    if report.verdict == "not judged":
        stops = tuple(f.code for f in report.findings if f.severity == "stop")
        return ScoredOutcome(**about, judged=False, stops=stops)
    by_number = dict(enumerate(truth.relative_sound, start=1))
    grey = {c for c, v in by_number.items() if GREY[0] <= v <= GREY[1]}
    low = {c for c, v in by_number.items() if v < LOW_BELOW}
    softened = [e for e in report.estimates if e.call == "watch" and e.relative < LOW_BELOW]
    either = grey | {e.cylinder for e in softened}
    # without numbers nobody knows whom an open figure belongs to
    unnamed = bool(softened) and not report.cylinders_known
    right = _fits(report, low, grey)
    known = [e for e in report.estimates if e.cylinder is not None]
    truths = tuple(by_number.get(e.cylinder or 0, float("nan")) for e in known)
    return ScoredOutcome(
        **about,
        judged=True,
        right=right,
        left_open=not right and (unnamed or (bool(softened) and _fits(report, low, either))),
        false_call=not low and not grey and any(c for c in report.candidates),
        truths=truths,
        errors=tuple(e.relative - t for e, t in zip(known, truths, strict=True)),
        widths=tuple(e.high - e.low for e in known),
        inside=tuple(e.low <= t <= e.high for e, t in zip(known, truths, strict=True)),
    )


def _fits(report: Report, low: set[int], either: Collection[int | None]) -> bool:
    """Return whether a set named is exactly the low cylinders, those of `either` left out."""
    return any(set(c).difference(either) == low.difference(either) for c in report.candidates)


@dataclass(frozen=True, slots=True)
class Score:
    """Figures over many captures.

    `right` is over those judged and not left open, which `left_open` counts. Shares are 0 to 1
    and NaN where there is nothing to share; `rms`, `largest` and `width` (of the 95 % interval,
    whole) are in relative compression.
    """

    captures: int
    judged: int
    right: float
    rms: float
    largest: float
    width: float
    sound: int
    false_calls: int
    inside: float
    refused: float
    left_open: int = 0
    wrong: tuple[ScoredOutcome, ...] = ()


def score(outcomes: Sequence[ScoredOutcome]) -> Score:
    """Sum up the outcomes of captures by one method."""
    judged = [o for o in outcomes if o.judged]
    errors = np.array([e for o in judged for e in o.errors])
    widths = [w for o in judged for w in o.widths]
    sound = [o for o in judged if o.fault in _EVEN_FAULTS]
    return Score(
        captures=len(outcomes),
        judged=len(judged),
        right=share([bool(o.right) for o in judged if not o.left_open]),
        rms=float(np.sqrt(np.mean(errors**2))) if errors.size else float("nan"),
        largest=float(np.abs(errors).max()) if errors.size else float("nan"),
        width=float(np.mean(widths)) if widths else float("nan"),
        sound=len(sound),
        false_calls=sum(o.false_call for o in sound),
        inside=share([i for o in judged for i in o.inside]),
        refused=share([not o.judged for o in outcomes]),
        left_open=sum(o.left_open for o in judged),
        wrong=tuple(o for o in judged if not o.right and not o.left_open),
    )


def share(values: Sequence[bool]) -> float:
    """Return how many are true, 0 to 1; NaN of none."""
    return sum(values) / len(values) if values else float("nan")
