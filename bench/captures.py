"""Which captures are drawn: good ones over all layouts, flawed ones, and hard ones.

Seeds of the bench are fixed. `held_out` takes others, which nobody looks at while working on a
method: what is tuned on the first set must hold on the second.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from traces.simulator.hard import fits
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import FLAWS, HARD, LAYOUTS, draw

Part = Literal["good", "flawed", "hard"]
PARTS: tuple[Part, ...] = ("good", "flawed", "hard")
FAMILIES: tuple[Family, ...] = ("a", "b", "c")
_TWO: tuple[Family, ...] = ("a", "b")
"""Flawed and hard captures are of these; their seeds are older than family c."""

_FIRST_SEED: dict[Family, int] = {"a": 100_000, "b": 200_000, "c": 250_000}
_FIRST_FLAWED = 300_000
_FIRST_HARD = 700_000
_HELD_OUT = 1_000_000
_TOGETHER = 16
"""Captures simulated side by side; fixed, so that figures do not hang on the number of jobs."""

HARMLESS = frozenset(
    {"one-of-two-cables", "wrong-scale", "reversed", "offset", "drift", "load-steps"}
)
"""Flaws with which a capture may still be judged: the shape is all there."""


@dataclass(frozen=True, slots=True)
class CaptureBatch:
    """Scenarios of one part and family that are simulated and judged in one go."""

    part: Part
    scenarios: tuple[Scenario, ...]


def batches(each: int, *, held_out: bool = False) -> list[CaptureBatch]:
    """Return all captures: `each` of every layout and family, half of that of flaws and kinds."""
    first = _HELD_OUT if held_out else 0
    some = max(2, each // 2)
    drawn: list[tuple[Part, Iterator[Scenario]]] = [
        *(("good", _good(family, each, first)) for family in FAMILIES),
        ("flawed", _flawed(some, first)),
        ("hard", _hard(some, first)),
    ]
    return [
        CaptureBatch(part, tuple(chunk))
        for part, scenarios in drawn
        for chunk in _cut(list(scenarios))
    ]


def _cut(scenarios: Sequence[Scenario]) -> Iterator[Sequence[Scenario]]:
    for family in FAMILIES:
        of_it = [s for s in scenarios if s.family == family]
        for start in range(0, len(of_it), _TOGETHER):
            yield of_it[start : start + _TOGETHER]


def _good(family: Family, each: int, first: int) -> Iterator[Scenario]:
    for i, layout in enumerate(LAYOUTS):
        for j in range(each):
            yield draw(first + _FIRST_SEED[family] + 100 * i + j, layout=layout, family=family)


def _flawed(each: int, first: int) -> Iterator[Scenario]:
    for i, flaw in enumerate(f for f in FLAWS if f != "none"):
        for j in range(each):
            yield draw(first + _FIRST_FLAWED + 100 * i + j, flaw=flaw, family=_TWO[j % 2])


def _hard(each: int, first: int) -> Iterator[Scenario]:
    layouts = list(LAYOUTS)
    for i, kind in enumerate(HARD):
        taken = 0
        for j in range(100):
            seed = first + _FIRST_HARD + 100 * i + j
            layout, family = layouts[(3 * i + j) % len(layouts)], _TWO[taken % 2]
            plain = draw(seed, layout, family=family, sync="720")
            if taken < each and fits(kind, plain):
                taken += 1
                yield draw(seed, layout, family=family, sync="720", hard=kind)
