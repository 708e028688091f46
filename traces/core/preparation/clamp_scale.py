"""Whether a mean cranking current can be that of the engine entered, or the clamp's scale is off.

A scale that is wrong by ten makes a starter that draws 144 A look seized at 1440 A. Before
anything is said of the starter, the current is held against what engines of that size draw.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from shopdiag.people.core.words import NOTHING, Text, say
from traces.core.findings import Finding, amps, finding
from traces.core.setup import Fuel

USUAL_SCALES_MV_PER_A = (1.0, 2.0, 10.0, 20.0, 50.0, 100.0, 200.0)
"""Positions of clamps' switches: 1, 10, 50 and 100 mV/A are common (common practice)."""

_BEYOND = 2.0
"""Cold oil, a clamp around one of two cables and 24 V starters stay within this factor."""

_SLOW_RPM, _SLOW_TIMES = 130.0, 1.5
"""An engine this slow is held back by something, and its starter draws more (common practice)."""


@dataclass(frozen=True, slots=True)
class _Draw:
    """Usual mean cranking current: a base and so much for each cylinder, amperes."""

    least_a: float
    least_each_a: float
    most_a: float
    most_each_a: float


# Textbook rows: 4 cylinders 100 to 185 A, 6 cylinders 125 to 250 A, 8 cylinders 150 A to over
# 300 A, diesels 400 A and up; small warm engines draw less. Widened on both sides, because
# a warning that is wrong costs more than one that is missing.
_USUAL: Mapping[Fuel, _Draw] = MappingProxyType(
    {"petrol": _Draw(25.0, 10.0, 100.0, 45.0), "diesel": _Draw(30.0, 15.0, 0.0, 100.0)}
)


@dataclass(frozen=True, slots=True)
class ScaleDoubt:
    """A mean current that the engine entered cannot draw.

    Parameters
    ----------
    too_high
        Whether it is too much, else too little.
    other_mv_per_a, other_a
        Another usual scale with which the current would be usual, and that current; None where
        there is no such scale.
    """

    too_high: bool
    other_mv_per_a: float | None = None
    other_a: float | None = None


def usual_current_a(cylinders: int, fuel: Fuel) -> tuple[float, float]:
    """Return the least and most mean cranking current that is usual for an engine."""
    draw = _USUAL[fuel]
    return (
        draw.least_a + draw.least_each_a * cylinders,
        draw.most_a + draw.most_each_a * cylinders,
    )


def doubt_scale(
    mean_a: float,
    cylinders: int,
    fuel: Fuel,
    *,
    rpm: float | None = None,
    mv_per_a: float | None = None,
) -> ScaleDoubt | None:
    """Hold a mean cranking current against what such engines draw.

    Parameters
    ----------
    mean_a
        Above rest.
    rpm
        Cranking speed; None where it is not known.
    mv_per_a
        The scale that was entered; None where the file itself gives amps.

    Returns
    -------
    ScaleDoubt or None
        None where the current is possible.
    """
    least_a, most_a = usual_current_a(cylinders, fuel)
    slow = rpm is None or rpm < _SLOW_RPM
    if least_a / _BEYOND <= mean_a <= most_a * _BEYOND * (_SLOW_TIMES if slow else 1.0):
        return None
    too_high = mean_a > most_a
    if mv_per_a is None:
        return ScaleDoubt(too_high)
    middle_a = (least_a * most_a) ** 0.5
    with_others = {
        other: mean_a * mv_per_a / other for other in USUAL_SCALES_MV_PER_A if other != mv_per_a
    }
    fitting = {s: a for s, a in with_others.items() if least_a <= a <= most_a}
    if not fitting:
        return ScaleDoubt(too_high)
    # the positions of one clamp's switch mostly lie tens apart
    other = min(
        fitting,
        key=lambda s: (
            not _is_by_tens(s / mv_per_a),
            max(fitting[s], middle_a) / min(fitting[s], middle_a),
        ),
    )
    return ScaleDoubt(too_high, other, fitting[other])


_ENGINES: Mapping[Fuel, Text] = MappingProxyType(
    {
        "petrol": say("petrol engine with {cylinders} cylinders"),
        "diesel": say("diesel engine with {cylinders} cylinders"),
    }
)


def scale_findings(
    doubt: ScaleDoubt | None, mean_a: float, cylinders: int, fuel: Fuel, channel: str
) -> list[Finding]:
    """Say that the scale looks wrong, and which other one would make the current usual."""
    if doubt is None:
        return []
    other = NOTHING
    if doubt.other_mv_per_a is not None and doubt.other_a is not None:
        other = say(
            "; with {scale} mV/A it would be {level}",
            scale=f"{doubt.other_mv_per_a:g}",
            level=amps(doubt.other_a),
        )
    return [
        finding(
            "scale-too-high" if doubt.too_high else "scale-too-low",
            channel=channel,
            level=amps(mean_a),
            engine=_ENGINES[fuel].filled(cylinders=cylinders),
            other=other,
        )
    ]


def _is_by_tens(ratio: float) -> bool:
    return any(abs(ratio * ten - 1) < 1e-6 for ten in (0.001, 0.01, 0.1, 10.0, 100.0, 1000.0))
