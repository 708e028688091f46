"""Several captures of one simulated engine: how well they repeat, and what pooling gains.

`python -m bench.repeats` cranks engines of all layouts three times each, with another rest
angle, battery and noise every time, and compares single figures with pooled ones. `--quick`
does a fourth of that.
"""

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from traces.core.humps import Limits
from traces.core.judging import analyse
from traces.core.pooling import PoolInput, Together, is_poolable, pool, take_of
from traces.core.report import Report
from traces.core.waveform import Floats
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import LAYOUTS, draw
from traces.simulator.simulate import simulate_many

CAPTURES = 3
_FIRST_SEED = 900_000
_LIMITS = Limits(0.80, 0.88)
_MOVES = 0.05
"""A cylinder whose truth changes more between captures is no repeat of itself."""


@dataclass(slots=True)
class Gain:
    """Errors and intervals of single and pooled figures; relative compression, 1.00 = sound."""

    engines: int = 0
    single: list[float] = field(default_factory=list)
    pooled: list[float] = field(default_factory=list)
    single_inside: list[bool] = field(default_factory=list)
    pooled_inside: list[bool] = field(default_factory=list)
    repeat_sd: list[float] = field(default_factory=list)
    called_different: int = 0
    moved: int = 0
    moved_named: int = 0


def repeats(seed: int, layout: str, family: Family) -> list[Scenario]:
    """Return captures of one engine: other rest angle, length, battery, zero and noise."""
    base = draw(seed, layout=layout, family=family, sync="720")
    found = []
    for j in range(CAPTURES):
        rng = np.random.default_rng([seed, 7000 + j])
        start_deg, crank_s = float(rng.uniform(0, 720)), float(rng.uniform(3.2, 5.5))
        battery = replace(
            base.battery,
            emf_v=base.battery.emf_v * float(rng.uniform(0.95, 1.03)),
            resistance_ohm=base.battery.resistance_ohm * float(rng.uniform(0.9, 1.15)),
        )
        clamp = replace(
            base.clamp,
            offset_a=float(rng.normal(0, 2.5)),
            drift_a_per_s=float(rng.normal(0, 0.4)),
        )
        found.append(
            replace(
                base,
                seed=10 * seed + j,
                start_deg=start_deg,
                crank_s=crank_s,
                battery=battery,
                clamp=clamp,
            )
        )
    return found


def measure(family: Family, layouts: tuple[str, ...], each: int) -> Gain:
    """Compare single and pooled figures over `each` engines of every layout."""
    gain = Gain()
    scenarios = [s for name, seed in _seeds(layouts, each) for s in repeats(seed, name, family)]
    captures = list(simulate_many(scenarios))
    for at in range(0, len(captures), CAPTURES):
        takes: list[PoolInput] = []
        reports: list[Report] = []
        truths = []
        for simulated in captures[at : at + CAPTURES]:
            setup = simulated.scenario.setup()
            report = analyse(simulated.waveform, setup)
            if is_poolable(report) and report.cylinders_known:
                takes.append(take_of(len(takes), report, setup))
                reports.append(report)
                truths.append(simulated.truth.relative_sound)
        together = pool(takes, _LIMITS)
        if together is not None:
            _add(gain, together, reports, np.array(truths))
    return gain


def _seeds(layouts: tuple[str, ...], each: int) -> Iterator[tuple[str, int]]:
    names = list(LAYOUTS)
    for name in layouts:
        for n in range(each):
            yield name, _FIRST_SEED + 100 * names.index(name) + n


def _add(gain: Gain, together: Together, reports: list[Report], truths: Floats) -> None:
    gain.engines += 1
    gain.repeat_sd.append(together.repeat_sd)
    for number, place in together.by_cylinder.items():
        true = truths[:, number - 1]
        if np.ptp(true) > _MOVES:
            gain.moved += 1
            gain.moved_named += place.differs
            continue
        gain.called_different += place.differs
        gain.pooled.append(place.relative - float(true.mean()))
        gain.pooled_inside.append(place.low <= float(true.mean()) <= place.high)
        for report, value in zip(reports, true, strict=True):
            estimate = next(e for e in report.estimates if e.cylinder == number)
            gain.single.append(estimate.relative - float(value))
            gain.single_inside.append(estimate.low <= float(value) <= estimate.high)


def rms(errors: list[float]) -> float:
    """Return the root mean square."""
    return float(np.sqrt(np.mean(np.square(errors))))


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a fourth of the engines")
    each = 1 if parser.parse_args(arguments).quick else 4
    say = sys.stdout.write
    say(
        "| family | engines | RMS single | RMS pooled | inside single | inside pooled | "
        "repeat SD, median | sound repeats called different | real changes named |\n"
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- |\n"
    )
    families: tuple[Family, ...] = ("a", "b")
    for family in families:
        g = measure(family, tuple(LAYOUTS), each)
        say(
            f"| {family} | {g.engines} | {100 * rms(g.single):.2f} | {100 * rms(g.pooled):.2f} | "
            f"{np.mean(g.single_inside):.1%} | {np.mean(g.pooled_inside):.1%} | "
            f"{100 * np.median(g.repeat_sd):.2f} | {g.called_different} of {len(g.pooled)} | "
            f"{g.moved_named} of {g.moved} |\n"
        )


if __name__ == "__main__":
    main(sys.argv[1:])
