"""Traps: captures and set-ups that tempt a method to name the wrong cylinder without a word.

`python -m bench.traps` judges 15 captures of each trap over three families of physics as the
worker does, and prints how many were refused, asked (candidates instead of numbers), named
rightly, warned of, and wrong in silence; what that means stands in `bench.trap_scoring`. The
same seeds give the same figures; `--only` and `--seed` repeat one capture.
"""

import argparse
import json
import os
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from bench.scoring import share
from bench.tables import percent, points, table
from bench.trap_scenarios import FAMILIES, TRAPS
from bench.trap_scoring import Caught, caught
from traces.simulator.scenario import Scenario
from traces.simulator.simulate import simulate_many

EACH, EACH_QUICK = 15, 3
FOLDER = Path("var/bench")
_FIRST, _HELD_OUT, _APART = 40_000_000, 470_000_000, 10_000
_TOGETHER = 16


@dataclass(frozen=True, slots=True)
class Chunk:
    """Captures of one family that are simulated side by side, with their traps' names."""

    names: tuple[str, ...]
    scenarios: tuple[Scenario, ...]


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    chosen = _arguments(arguments)
    found: list[Caught] = []
    todo = chunks(chosen.only, chosen.each, held_out=chosen.held_out, seed=chosen.seed)
    for n, of_it in enumerate(_run(todo, chosen.jobs), start=1):
        found += of_it
        if sys.stderr.isatty():
            sys.stderr.write(f"\r{n} of {len(todo)} batches")
    for name, text in tables(found).items():
        sys.stdout.write(f"\n{name}\n\n{text}\n")
    sys.stdout.write(f"\n{silent(found)}\n")
    write(chosen.json or result_path(held_out=chosen.held_out), found)


def result_path(*, held_out: bool) -> Path:
    """Return where every capture's outcome lies unless another file was named."""
    return FOLDER / ("traps-held-out.json" if held_out else "traps.json")


def write(path: Path, found: Sequence[Caught]) -> None:
    """Write what every trap caught, one capture a line."""
    path.parent.mkdir(parents=True, exist_ok=True)
    lines = ",\n".join(json.dumps(c.to_json()) for c in found)
    path.write_text(f"[\n{lines}\n]\n", encoding="utf-8")


def read(path: Path) -> list[Caught]:
    """Return what `write` wrote."""
    return [Caught.from_json(values) for values in json.loads(path.read_text(encoding="utf-8"))]


def chunks(
    names: Sequence[str], each: int, *, held_out: bool = False, seed: int | None = None
) -> list[Chunk]:
    """Return all captures by family and size of engine, or that of one seed alone."""
    drawn: list[tuple[str, Scenario]] = []
    for i, (name, trap) in enumerate(TRAPS.items()):
        if name not in names:
            continue
        first = _FIRST + (_HELD_OUT if held_out else 0) + _APART * i
        seeds = [seed] if seed is not None else range(first, first + each)
        drawn += [(name, trap.make(at, FAMILIES[at % len(FAMILIES)])) for at in seeds]
    found = []
    for family in FAMILIES:
        of_it = [d for d in drawn if d[1].family == family]
        of_it.sort(key=lambda d: len(d[1].engine.cylinders))
        for start in range(0, len(of_it), _TOGETHER):
            part = of_it[start : start + _TOGETHER]
            found.append(Chunk(tuple(n for n, _ in part), tuple(s for _, s in part)))
    return found


def judged(chunk: Chunk) -> list[Caught]:
    """Simulate and judge a chunk."""
    simulated = simulate_many(chunk.scenarios)
    return [
        caught(name, TRAPS[name], one) for name, one in zip(chunk.names, simulated, strict=True)
    ]


def tables(found: Sequence[Caught]) -> dict[str, str]:
    """Return every table by its name, those without a row left out."""
    made = {"traps": traps(found), "banks": banks(found), "moved": moved(found)}
    return {name: text for name, text in made.items() if text}


def traps(found: Sequence[Caught]) -> str:
    """What became of each trap."""
    heads = (
        "trap",
        "captures",
        "refused",
        "judged",
        "asked",
        "right",
        "left open",
        "warned",
        "RMS, points",
        "truth in interval",
        "**wrong in silence**",
        "refused for",
    )
    rows = []
    for name in TRAPS:
        of_it = [c for c in found if c.trap == name]
        if of_it:
            rows.append((name, *_row(of_it)))
    if len(rows) > 1:
        rows.append(("all", *_row(found)))
    return table(heads, rows)


def _row(found: Sequence[Caught]) -> tuple[str, ...]:
    judged_ones = [c for c in found if c.judged]
    errors = np.array([e for c in judged_ones for e in c.errors])
    codes = Counter(code for c in found for code in set(c.codes))
    return (
        str(len(found)),
        str(len(found) - len(judged_ones)),
        str(len(judged_ones)),
        str(sum(not c.named for c in judged_ones)),
        str(sum(c.right for c in judged_ones)),
        str(sum(c.left_open for c in judged_ones)),
        str(sum(c.warned for c in judged_ones)),
        points(float(np.sqrt(np.mean(errors**2))) if errors.size else float("nan")),
        percent(share([i for c in judged_ones for i in c.inside]), 0),
        str(sum(c.silent for c in found)),
        ", ".join(f"{code} {n}" for code, n in codes.most_common(4)),
    )


def banks(found: Sequence[Caught]) -> str:
    """Banks called uneven, where they are and where they are not."""
    rows = []
    for name, trap in TRAPS.items():
        of_it = [c for c in found if c.trap == name and c.judged and c.bank_truth is not None]
        if trap.kind == "bank" and of_it:
            called = sum(bool(c.bank_called) for c in of_it)
            apart = float(np.mean([c.bank_truth or 0.0 for c in of_it]))
            rows.append((name, str(len(of_it)), str(called), points(apart)))
    return table(("banks", "judged", "called uneven", "true difference, mean, points"), rows)


def moved(found: Sequence[Caught]) -> str:
    """How far figures hang on which cylinder the sync is on."""
    by_it = [c for c in found if c.moved is not None]
    if not by_it:
        return ""
    apart = np.array([c.moved for c in by_it], dtype=np.float64)
    row = (
        str(len(by_it)),
        points(float(np.median(apart)), 2),
        points(float(apart.max()), 2),
        str(sum(not c.right for c in by_it)),
    )
    heads = ("captures", "difference, median, points", "largest", "other sets named")
    return table(heads, [row])


def silent(found: Sequence[Caught]) -> str:
    """Name the captures that are wrong in silence, so that each can be repeated."""
    lines = [
        f"- {c.trap}: family {c.family}, {c.layout} {c.fault}, --seed {c.seed}: "
        f"said {list(c.said)}, true {c.truth}"
        + (f", banks apart by {100 * c.bank_truth:.0f}" if c.bank_truth is not None else "")
        for c in found
        if c.silent
    ]
    return f"Wrong in silence: {len(lines)} of {len(found)}\n" + "\n".join(lines)


def _run(todo: Sequence[Chunk], jobs: int) -> Iterator[list[Caught]]:
    if jobs <= 1:
        yield from map(judged, todo)
        return
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        yield from pool.map(judged, todo)


def _arguments(arguments: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="bench.traps", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a fifth of the captures")
    parser.add_argument("--each", type=int, help="captures of each trap")
    parser.add_argument("--held-out", action="store_true", help="other seeds, kept aside")
    parser.add_argument("--only", nargs="+", choices=list(TRAPS), default=list(TRAPS))
    parser.add_argument("--seed", type=int, help="this seed alone")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    parser.add_argument("--json", type=Path, help=f"file for the outcomes, else in {FOLDER}/")
    # what only other benches are told is of no interest here
    chosen, _ = parser.parse_known_args(arguments)
    chosen.each = chosen.each or (EACH_QUICK if chosen.quick else EACH)
    return chosen


if __name__ == "__main__":
    main(sys.argv[1:])
