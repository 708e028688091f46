"""`python -m mutation`: make the code wrong in one place at a time, and see whether tests fail.

`--sample 20` takes 20 places of each area, `--seed 2` others, `--area twin` one area. What no test
notices is printed as a difference. The first run asks every test file once which functions it
reaches; that is kept in var/ and asked again only of what has changed.
"""

import argparse
import hashlib
import json
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from mutation.areas import AREAS, ROOT, Area
from mutation.child import Outcome, be_ready, run_tests
from mutation.mutants import Mutant, mutants_of, sample

_KEPT = ROOT / "var" / "mutation" / "reached.json"
_STARTS_S = 15.0
"""Processor time that a run may take before its first test."""
_AT_MOST_S = 120.0
"""Processor time of test files that one mutant is held against, the nearest ones first."""


@dataclass(frozen=True)
class Reach:
    """What one test file reaches, and the processor time that it takes."""

    functions: frozenset[str]
    cpu_s: float


class Reaches:
    """What each test file reaches, kept from run to run."""

    def __init__(self) -> None:
        self._kept = json.loads(_KEPT.read_text()) if _KEPT.exists() else {}

    def of(self, file: str, modules: Sequence[str]) -> Reach:
        """Return what a test file reaches; a file that fails is no use and ends everything."""
        key = _digest([file, *modules])
        if key not in self._kept:
            outcome = run_tests([file], {}, cpu_limit_s=900)
            if outcome.code not in {0, 5}:
                sys.exit(f"{file} fails as it is:\n{outcome.said}")
            self._kept[key] = [sorted(outcome.reached), outcome.cpu_s]
            _KEPT.parent.mkdir(parents=True, exist_ok=True)
            _KEPT.write_text(json.dumps(self._kept))
        reached, cpu_s = self._kept[key]
        return Reach(frozenset(reached), cpu_s)


def _digest(paths: Sequence[str]) -> str:
    return hashlib.sha256(b"\0".join((ROOT / path).read_bytes() for path in paths)).hexdigest()


@dataclass(frozen=True)
class Judged:
    """A mutant, and how the tests took it."""

    mutant: Mutant
    word: str
    files: int


def judge(mutant: Mutant, reaches: dict[str, Reach]) -> Judged:
    """Run the test files that reach a mutant, those named like its module and quick ones first."""
    stem = Path(mutant.path).stem
    near = [file for file, reach in reaches.items() if _reached(mutant, reach)]
    near.sort(key=lambda file: (stem not in file, reaches[file].cpu_s))
    asked: list[str] = []
    takes_s = 0.0
    for file in near:
        takes_s += reaches[file].cpu_s
        if asked and takes_s > _AT_MOST_S:
            break
        asked.append(file)
    if not asked:
        return Judged(mutant, "reached by none", 0)
    outcome = run_tests(asked, {mutant.path: mutant.code}, cpu_limit_s=_STARTS_S + 3 * takes_s)
    return Judged(mutant, _word(outcome), len(asked))


def _reached(mutant: Mutant, reach: Reach) -> bool:
    """Return whether a test file calls the mutant's function, or any of its module."""
    if mutant.function:
        return mutant.function in reach.functions
    return any(name.startswith(f"{mutant.path}:") for name in reach.functions)


def _word(outcome: Outcome) -> str:
    if outcome.code == 0:
        return "survived"
    return "killed" if outcome.code > 0 else "ran on"


def judge_area(area: Area, count: int, seed: int) -> Iterator[Judged]:
    """Judge a sample of an area's mutants."""
    kept, modules = Reaches(), area.modules
    reaches = {file: kept.of(file, modules) for file in area.test_files}
    for mutant in sample([m for path in modules for m in mutants_of(path)], count, seed):
        yield judge(mutant, reaches)


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def main() -> None:
    """Judge and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sample", type=int, default=20, help="places of each area")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--area", choices=[area.name for area in AREAS], action="append")
    asked = parser.parse_args()
    be_ready()
    rows = []
    for area in AREAS:
        if asked.area and area.name not in asked.area:
            continue
        began, judged = time.monotonic(), []
        for one in judge_area(area, asked.sample, asked.seed):
            judged.append(one)
            where = f"{one.mutant.path}:{one.mutant.line}"
            _say(f"{one.word:15} {where} {one.mutant.operator.removeprefix('core/')}")
            if one.word in {"survived", "reached by none"}:
                _say(one.mutant.diff)
        noticed = sum(one.word in {"killed", "ran on"} for one in judged)
        took_min = (time.monotonic() - began) / 60
        rows.append(f"{area.name:14} {noticed} of {len(judged)} noticed, {took_min:.0f} min")
    _say("\n".join(["", *rows]))


if __name__ == "__main__":
    main()
