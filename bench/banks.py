"""Bank against bank on seeded captures, by how the engine fires and what is wrong with it.

`python -m bench.banks` judges 24 captures of each of six kinds; `--held-out` takes seeds kept
aside, `--each 96` more of them. Banks whose true means lie 6 points or more apart have to be
called, engines without a late bank never.
"""

import argparse
import os
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context

import numpy as np

from bench.scoring import share
from bench.tables import percent, points, table
from bench.trap_scenarios import BANKED, FAMILIES, UNEVEN_BANKED, bank_late, banks_alike
from bench.trap_scoring import UNEVEN, bank_apart
from traces.core.analysis import judge
from traces.simulator.scenario import Scenario
from traces.simulator.simulate import simulate_many

_FIRST, _HELD_OUT, _APART = 510_900_000, 521_000_000, 10_000
_TOGETHER = 4
_FIRING = {"even": BANKED, "uneven": UNEVEN_BANKED}
_STATES = ("one bank late or early", "sound", "one weak cylinder")


@dataclass(frozen=True, slots=True)
class Compared:
    """Banks of one capture against their truth.

    Parameters
    ----------
    firing, state
        How the engine fires and what is wrong with it, as in the tables.
    scenario
        What was simulated.
    truth
        Difference of the banks' true means, share of a sound cylinder.
    points, half
        The figure and half its interval, shares too; None where banks were not compared.
    called, doubted
        Whether they were called uneven, and whether the report says that it cannot tell.
    """

    firing: str
    state: str
    scenario: Scenario
    truth: float
    points: float | None = None
    half: float = 0.0
    called: bool = False
    doubted: bool = False

    @property
    def is_apart(self) -> bool:
        """Whether the banks are truly so far apart that it has to be called."""
        return self.truth >= UNEVEN

    @property
    def is_held(self) -> bool:
        """Whether the interval holds the truth, from whichever bank it was counted."""
        figure = self.points or 0.0
        return min(abs(figure - self.truth), abs(figure + self.truth)) <= self.half


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(prog="bench.banks", description=__doc__)
    parser.add_argument("--each", type=int, default=24, help="captures of each kind")
    parser.add_argument("--held-out", action="store_true", help="other seeds, kept aside")
    parser.add_argument("--first", type=int, help="first seed, instead of the bench's own")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    chosen = parser.parse_args(arguments)
    first = chosen.first or (_HELD_OUT if chosen.held_out else _FIRST)
    found = [one for part in _run(_drawn(first, chosen.each), chosen.jobs) for one in part]
    sys.stdout.write(f"{by_kind(found)}\n\n{by_layout(found)}\n\n{noteworthy(found)}\n")


Kind = tuple[str, str, tuple[Scenario, ...]]


def _drawn(first: int, each: int) -> list[Kind]:
    """Return captures by firing, state and family, a few at a time."""
    kinds: list[Kind] = []
    for i, (firing, layouts) in enumerate(_FIRING.items()):
        for j, state in enumerate(_STATES):
            start = first + _APART * (len(_STATES) * i + j)
            for k, family in enumerate(FAMILIES):
                drawn = [
                    bank_late(seed, family, layouts)
                    if j == 0
                    else banks_alike(seed, family, layouts, ("none", "one")[j - 1])
                    for seed in range(start + k, start + each, len(FAMILIES))
                ]
                kinds += [
                    (firing, state, tuple(drawn[at : at + _TOGETHER]))
                    for at in range(0, len(drawn), _TOGETHER)
                ]
    return kinds


def _run(kinds: Sequence[Kind], jobs: int) -> Iterator[list[Compared]]:
    if jobs <= 1:
        yield from map(compared, kinds)
        return
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        yield from pool.map(compared, kinds)


def compared(kind: Kind) -> list[Compared]:
    """Simulate and judge captures of one kind."""
    firing, state, scenarios = kind
    found = []
    for simulated in simulate_many(scenarios):
        report = judge(simulated.waveform, simulated.scenario.setup())
        truth = bank_apart(simulated)
        one = Compared(firing, state, simulated.scenario, truth)
        difference = report.bank_difference
        if report.verdict != "not judged" and difference is not None:
            one = Compared(
                firing,
                state,
                simulated.scenario,
                truth,
                points=difference.points / 100,
                half=(difference.high - difference.points) / 100,
                called=difference.call == "uneven",
                doubted=any(f.code == "bank-uncertain" for f in report.findings),
            )
        found.append(one)
    return found


def by_kind(found: Sequence[Compared]) -> str:
    """What became of each kind, all engines together."""
    rows = [
        (firing, state, *_row([c for c in found if (c.firing, c.state) == (firing, state)]))
        for firing in _FIRING
        for state in _STATES
    ]
    return table(("firing", "engine", *_HEADS), rows)


def by_layout(found: Sequence[Compared]) -> str:
    """What became of late banks, by layout."""
    late = [c for c in found if c.state == _STATES[0]]
    rows = [
        (layout, *_row([c for c in late if c.scenario.layout == layout]))
        for layout in (*BANKED, *UNEVEN_BANKED)
    ]
    return table(("one bank late or early", *_HEADS), rows)


_HEADS = (
    "captures",
    "compared",
    "6 points apart",
    "of these called",
    "doubted",
    "neither",
    "others called",
    "others doubted",
    "RMS, points",
    "half interval, points",
    "truth in interval",
)


def _row(found: Sequence[Compared]) -> tuple[str, ...]:
    told = [c for c in found if c.points is not None]
    apart = [c for c in told if c.is_apart]
    others = [c for c in told if not c.is_apart]
    errors = np.array([(c.points or 0.0) - c.truth for c in told])
    counts = (
        len(found),
        len(told),
        len(apart),
        sum(c.called for c in apart),
        sum(c.doubted for c in apart),
        sum(not (c.called or c.doubted) for c in apart),
        sum(c.called for c in others),
        sum(c.doubted for c in others),
    )
    return (
        *map(str, counts),
        points(float(np.sqrt(np.mean(errors**2))) if told else float("nan")),
        points(float(np.mean([c.half for c in told])) if told else float("nan")),
        percent(share([c.is_held for c in told]), 0),
    )


def noteworthy(found: Sequence[Compared]) -> str:
    """Name what was missed, called without a late bank, or fell out of its interval."""
    lines = []
    for c in found:
        if c.points is None:
            continue
        missed = c.is_apart and not c.called
        wrong = c.called and c.state != _STATES[0]
        if missed or wrong or not c.is_held:
            what = "missed" if missed else "called" if wrong else "out of its interval"
            doubt = ", doubted" if c.doubted else ""
            lines.append(
                f"- {what}{doubt}: {c.scenario.layout} {c.state}, family {c.scenario.family}, "
                f"seed {c.scenario.seed}: {points(c.points)} ± {points(c.half)}, "
                f"true {points(c.truth)}"
            )
    return "\n".join(lines)


if __name__ == "__main__":
    main(sys.argv[1:])
