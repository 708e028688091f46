"""What counts as right, and how figures over many captures are summed up."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from traces.core.results import Report
from traces.core.simulator.simulate import Simulated

LOW_BELOW = 0.80
GREY = (0.75, 0.87)
"""Cylinders whose truth lies here may be called either way."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One capture judged by one method.

    Parameters
    ----------
    judged
        Whether there was a verdict.
    stops
        Codes of the stop findings.
    right
        Whether exactly the low cylinders were called, the grey zone left out; with several
        candidates, whether one of them is right. None where not judged.
    false_call
        Whether a cylinder that is sound was called low.
    errors, inside
        Of each cylinder whose number is known: figure minus truth, and whether the interval
        holds the truth.
    truths
        Beside `errors`.
    """

    family: str
    layout: str
    fault: str
    seed: int
    judged: bool
    stops: tuple[str, ...] = ()
    right: bool | None = None
    false_call: bool = False
    errors: tuple[float, ...] = ()
    truths: tuple[float, ...] = ()
    inside: tuple[bool, ...] = ()


def outcome(simulated: Simulated, report: Report) -> Outcome:
    """Compare a report with the truth of its capture."""
    scenario, truth = simulated.scenario, simulated.truth
    about = (scenario.family, truth.layout, truth.fault, scenario.seed)
    if report.verdict == "not judged":
        stops = tuple(f.code for f in report.findings if f.severity == "stop")
        return Outcome(*about, judged=False, stops=stops)
    by_number = dict(enumerate(truth.relative_sound, start=1))
    grey = {c for c, v in by_number.items() if GREY[0] <= v <= GREY[1]}
    low = {c for c, v in by_number.items() if v < LOW_BELOW}
    fits = [set(candidate) - grey == low - grey for candidate in report.candidates]
    right = any(fits)
    known = [e for e in report.estimates if e.cylinder is not None]
    truths = tuple(by_number.get(e.cylinder or 0, float("nan")) for e in known)
    return Outcome(
        *about,
        judged=True,
        right=right,
        false_call=not low and not grey and any(c for c in report.candidates),
        errors=tuple(e.relative - t for e, t in zip(known, truths, strict=True)),
        truths=truths,
        inside=tuple(e.low <= t <= e.high for e, t in zip(known, truths, strict=True)),
    )


@dataclass(frozen=True, slots=True)
class Score:
    """Figures over many captures; shares are 0 to 1, `rms` in relative compression."""

    captures: int
    judged: int
    right: float
    rms: float
    largest: float
    sound: int
    false_calls: int
    inside: float
    refused: float
    wrong: tuple[Outcome, ...] = field(default=())


def score(outcomes: Sequence[Outcome]) -> Score:
    """Sum up the outcomes of captures without flaws."""
    judged = [o for o in outcomes if o.judged]
    errors = np.array([e for o in judged for e in o.errors])
    sound = [o for o in judged if o.fault in ("none", "all", "late-cam")]
    return Score(
        captures=len(outcomes),
        judged=len(judged),
        right=_share([bool(o.right) for o in judged]),
        rms=float(np.sqrt(np.mean(errors**2))) if errors.size else float("nan"),
        largest=float(np.abs(errors).max()) if errors.size else float("nan"),
        sound=len(sound),
        false_calls=sum(o.false_call for o in sound),
        inside=_share([i for o in judged for i in o.inside]),
        refused=_share([not o.judged for o in outcomes]),
        wrong=tuple(o for o in judged if not o.right),
    )


def _share(values: Sequence[bool]) -> float:
    return sum(values) / len(values) if values else float("nan")
