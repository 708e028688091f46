"""Accuracy of both methods on seeded simulated captures, and what an analysis costs.

`python -m bench.balance` judges 416 captures over all layouts by the hump method and the twin,
and 128 flawed ones; `--quick` a sixth of that. The same seeds give the same figures.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from bench.cost import Cost, measure
from bench.plot import scatter
from bench.scoring import Outcome, Score, outcome, score
from traces.core.humps import HumpMethod
from traces.core.methods import Method
from traces.core.pipeline import analyse
from traces.core.simulator.scenario import Family, Scenario
from traces.core.simulator.scenarios import FLAWS, LAYOUTS, draw
from traces.core.simulator.simulate import simulate_many
from traces.core.twin.method import TwinMethod

_EACH = 16
_EACH_QUICK = 2
_FIRST_SEED: dict[Family, int] = {"a": 100_000, "b": 200_000}
_FIRST_FLAWED = 300_000
_HARMLESS = frozenset(
    {"none", "one-of-two-cables", "wrong-scale", "reversed", "offset", "drift", "load-steps"}
)
"""Flaws with which a capture may still be judged: the shape is all there."""

METHODS: tuple[Method, ...] = (HumpMethod(), TwinMethod())


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a sixth of the captures")
    parser.add_argument("--plots", type=Path, help="folder to write scatter plots into")
    parser.add_argument("--no-cost", action="store_true", help="leave time and memory out")
    chosen = parser.parse_args(arguments)
    each = _EACH_QUICK if chosen.quick else _EACH
    families: tuple[Family, ...] = ("a", "b")
    for family in families:
        found = _judged(_good(family, each))
        _say(f"\nFamily {family}: {len(found[METHODS[0].name])} captures without flaws\n")
        _say(_HEAD)
        for name, outcomes in found.items():
            _say(_row(name, score(outcomes)))
        _tell_wrong(found[TwinMethod.name])
        if chosen.plots:
            _plot(chosen.plots, family, found)
    _tell_flawed(each)
    if not chosen.no_cost:
        _tell_costs(quick=chosen.quick)


def _good(family: Family, each: int) -> Iterator[Scenario]:
    for i, layout in enumerate(LAYOUTS):
        for j in range(each):
            yield draw(_FIRST_SEED[family] + 100 * i + j, layout=layout, family=family)


def _judged(scenarios: Iterator[Scenario]) -> dict[str, list[Outcome]]:
    found: dict[str, list[Outcome]] = {method.name: [] for method in METHODS}
    for simulated in simulate_many(list(scenarios)):
        setup = simulated.scenario.setup()
        for method in METHODS:
            report = analyse(simulated.waveform, setup, method)
            found[method.name].append(outcome(simulated, report))
    return found


_HEAD = (
    "| method | judged | set right | RMS, points | largest | false calls on sound | "
    "truth in interval | refused |\n| --- | --- | --- | --- | --- | --- | --- | --- |"
)


def _row(name: str, s: Score) -> str:
    return (
        f"| {name} | {s.judged} of {s.captures} | {s.right:.1%} | {100 * s.rms:.1f} | "
        f"{100 * s.largest:.0f} | {s.false_calls} of {s.sound} | {s.inside:.1%} | "
        f"{s.refused:.1%} |"
    )


def _tell_wrong(outcomes: list[Outcome]) -> None:
    wrong = [f"{o.layout} {o.fault} (seed {o.seed})" for o in score(outcomes).wrong]
    _say("\nTwin wrong: " + ("; ".join(wrong) or "none"))
    stops = Counter(code for o in outcomes for code in set(o.stops))
    _say("Twin refused: " + (", ".join(f"{c} x{n}" for c, n in stops.most_common()) or "none"))


def _tell_flawed(each: int) -> None:
    flaws = [flaw for flaw in FLAWS if flaw != "none"]
    families: tuple[Family, ...] = ("a", "b")
    scenarios = [
        draw(_FIRST_FLAWED + 100 * i + j, flaw=flaw, family=families[j % 2])
        for i, flaw in enumerate(flaws)
        for j in range(max(2, each // 2))
    ]
    judged: dict[str, list[bool]] = {flaw: [] for flaw in flaws}
    for simulated in simulate_many(scenarios):
        report = analyse(simulated.waveform, simulated.scenario.setup())
        done = outcome(simulated, report)
        judged[simulated.scenario.flaws.names[0]].append(done.judged)
    _say("\nFlawed captures judged\n\n| flaw | judged | may be |\n| --- | --- | --- |")
    for flaw, verdicts in judged.items():
        may = "yes" if flaw in _HARMLESS else "no"
        _say(f"| {flaw} | {sum(verdicts)} of {len(verdicts)} | {may} |")


def _tell_costs(*, quick: bool) -> None:
    kinds = [(20_000.0, 5.0)] if quick else [(20_000.0, 5.0), (1_000_000.0, 10.0)]
    _say("\nCost of one capture (delimited text, one process each, median of five)\n")
    _say(
        "| capture | pandas reads | reading | analysis | whole / pandas | peak / pandas |\n"
        "| --- | --- | --- | --- | --- | --- |"
    )
    for rate_hz, crank_s in kinds:
        _say(_cost_row(measure(rate_hz, crank_s)))


def _cost_row(c: Cost) -> str:
    whole_s = c.reading_s + c.analysis_s
    return (
        f"| {c.name} | {c.pandas_s:.3f} s | {c.reading_s:.3f} s | {c.analysis_s:.3f} s | "
        f"{whole_s / c.pandas_s:.1f} | {c.whole_mb / c.pandas_mb:.2f} |"
    )


def _plot(folder: Path, family: Family, found: dict[str, list[Outcome]]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for name, outcomes in found.items():
        points = [
            (truth, truth + error)
            for o in outcomes
            for truth, error in zip(o.truths, o.errors, strict=True)
        ]
        scatter(folder / f"balance-{family}-{name}.svg", f"Family {family}, {name}", points)


def _say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1:])
