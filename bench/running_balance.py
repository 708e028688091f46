"""Running balance from crank teeth on simulated idling engines of two physics.

`python -m bench.running_balance` judges engines of 3 to 8 cylinders, wheels of 24 to 120 places:
sound, each cylinder dead, pairs dead, one weak, one that comes and goes, each idling only and
switched off at the end; then engines that hunt or are revved, and those with a two-mass flywheel
(0.4 to 1.5 of the inertia behind the springs, 7 to 16 Hz), all with the flywheel said. Dead, weak
and sound ones follow once more with a flywheel that nobody said. The same seeds give the same
figures; `--held-out` takes others.
"""

import argparse
import os
import sys
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from engines.core.firing import FiringOrder
from traces.core.analysis import judge
from traces.core.report import Report
from traces.core.setup import AnalysisSetup, Flywheel, SyncSetup
from traces.core.signal_kinds import RUNNING_TEETH
from traces.simulator.running import (
    FAULTS,
    ORDERS,
    Course,
    Idle,
    IdleCapture,
    IdleFault,
    Physics,
    draw_idle,
    idle_capture,
)

_FIRST, _FIRST_HELD_OUT = 20_000, 90_000
_PHYSICS: tuple[Physics, ...] = ("gas", "impulse")
_COURSES: dict[Course, str] = {"coast": "switched off at the end", "idle": "idle only"}
_REFUSED_COURSES: tuple[Course, ...] = ("hunting", "snap")
_TWO_MASS_SHARE, _TWO_MASS_HZ = (0.4, 1.5), (7.0, 16.0)
_ASKED: tuple[IdleFault, ...] = ("none", "dead", "weak")
_LOW = 0.8


@dataclass(frozen=True, slots=True)
class _Outcome:
    group: tuple[str, str, str]
    judged: bool
    codes: tuple[str, ...]
    right: bool = True
    false_call: bool = False
    missed: bool = False
    squared: float = 0.0
    inside: float = 0.0
    cylinders: int = 0
    told: str = ""


def setup_of(idle: Idle, flywheel: Flywheel = "") -> AnalysisSetup:
    """Return what a person would enter: ignition of the first cylinder in the order."""
    return AnalysisSetup(
        firing_order=FiringOrder(idle.order.sequence, idle.order.tdc_angles_deg),
        current_channel="crank",
        mv_per_a=1000.0,
        signal=RUNNING_TEETH.code,
        sync=SyncSetup("coil", idle.order.sequence[0], "ignition"),
        flywheel=flywheel,
    )


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=2, help="captures of each kind")
    parser.add_argument("--held-out", action="store_true", help="other seeds, kept aside")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    chosen, _ = parser.parse_known_args(arguments)
    first = _FIRST_HELD_OUT if chosen.held_out else _FIRST
    groups: dict[tuple[str, str, str], list[_Outcome]] = defaultdict(list)
    with ProcessPoolExecutor(chosen.jobs) as pool:
        for found in pool.map(_outcome, _drawn(first, chosen.each), chunksize=4):
            groups[found.group].append(found)
            if found.judged and not found.right and sys.stderr.isatty():
                sys.stderr.write(found.told + "\n")
    _say(
        "| recording | physics | faults | judged | cylinders right | false calls on sound | "
        "RMS, points | truth in interval |\n| --- | --- | --- | --- | --- | --- | --- | --- |"
    )
    for group, outcomes in groups.items():
        _say(_row(group, outcomes))
    wrong = [o.told for outcomes in groups.values() for o in outcomes if o.judged and not o.right]
    _say("\nWrong: " + ("; ".join(wrong) or "none"))


_Drawn: TypeAlias = tuple[tuple[str, str, str], Idle, Flywheel]


def _drawn(first: int, each: int) -> Iterator[_Drawn]:
    for physics in _PHYSICS:
        for cylinders in ORDERS:
            seed = first + 1000 * cylinders
            for course, words in _COURSES.items():
                for fault in FAULTS:
                    for j in range(cylinders if fault == "dead" else 2 * each):
                        seed += 1
                        low = (j + 1,) if fault == "dead" else ()
                        idle = draw_idle(
                            seed, physics=physics, cylinders=cylinders, fault=fault, low=low
                        )
                        yield (words, physics, fault), replace(idle, course=course), "one-piece"
            for course in _REFUSED_COURSES:
                for _ in range(each):
                    seed += 1
                    idle = draw_idle(seed, physics=physics, cylinders=cylinders)
                    yield (course, physics, "none"), replace(idle, course=course), "one-piece"
            yield from _flywheels(seed, physics, cylinders, each)


def _flywheels(seed: int, physics: Physics, cylinders: int, each: int) -> Iterator[_Drawn]:
    """Yield engines whose flywheel nobody said, and such with two masses, said or not."""
    for fault in _ASKED:
        for _ in range(each):
            seed += 1
            idle = draw_idle(seed, physics=physics, cylinders=cylinders, fault=fault)
            idle = replace(idle, course="coast")
            yield ("one piece, not said", physics, fault), idle, ""
            if physics == "gas":
                continue
            rng = np.random.default_rng([seed, 901])
            idle = replace(
                idle,
                driveline_share=float(rng.uniform(*_TWO_MASS_SHARE)),
                driveline_hz=float(rng.uniform(*_TWO_MASS_HZ)),
            )
            yield ("two-mass flywheel", physics, fault), idle, "two-mass"
            yield ("two-mass flywheel, not said", physics, fault), idle, ""
            yield ("two-mass flywheel, said one piece", physics, fault), idle, "one-piece"


def _outcome(drawn: _Drawn) -> _Outcome:
    group, idle, flywheel = drawn
    capture = idle_capture(idle)
    report = judge(capture.waveform, setup_of(idle, flywheel))
    codes = tuple(f.code for f in report.findings if f.severity == "stop")
    told = f"{len(idle.order)} cylinders, {group[1]}, {group[2]}, {group[0]}, seed {idle.seed}"
    if report.verdict == "not judged":
        return _Outcome(group, judged=False, codes=codes, told=told)
    return _scored(group, capture, report, told)


def _scored(
    group: tuple[str, str, str], capture: IdleCapture, report: Report, told: str
) -> _Outcome:
    truth = capture.truth.contribution
    low = {c for c, share in truth.items() if share < _LOW}
    called = {e.cylinder for e in report.estimates if e.call == "suspect"}
    errors = [e.relative - truth[e.cylinder or 0] for e in report.estimates]
    inside = [e.low <= truth[e.cylinder or 0] <= e.high for e in report.estimates]
    return _Outcome(
        group,
        judged=True,
        codes=(),
        right=called == low,
        false_call=bool(called - low),
        missed=bool(low - called),
        squared=float(np.mean(np.square(errors))),
        inside=float(np.mean(inside)),
        cylinders=len(errors),
        told=told,
    )


def _row(group: tuple[str, str, str], outcomes: list[_Outcome]) -> str:
    judged = [o for o in outcomes if o.judged]
    codes = sorted({code for o in outcomes for code in o.codes})
    cells = [
        *group,
        f"{len(judged)} of {len(outcomes)}" + (f" ({', '.join(codes)})" if codes else ""),
    ]
    if not judged:
        return f"| {' | '.join([*cells, '-', '-', '-', '-'])} |"
    right = sum(o.right for o in judged)
    false = sum(o.false_call for o in judged)
    rms = 100 * float(np.sqrt(np.mean([o.squared for o in judged])))
    inside = float(np.average([o.inside for o in judged], weights=[o.cylinders for o in judged]))
    of_sound = f"{false} of {len(judged)}" if group[2] == "none" else "-"
    cells += [f"{right} of {len(judged)}", of_sound, f"{rms:.1f}", f"{inside:.0%}"]
    return f"| {' | '.join(cells)} |"


def _say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1:])
