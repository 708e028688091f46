"""Accuracy of both methods on seeded simulated captures, and what an analysis costs.

`python -m bench.balance` judges 768 captures without flaws over all layouts by the hump method
and the twin, 128 flawed ones and 136 hard ones, prints the tables and writes every outcome to a
file, from which `python -m bench.document` brings docs/balance.md up to date. The same seeds
give the same figures, whatever the number of jobs.
"""

import argparse
import json
import os
import sys
from pathlib import Path

from bench.captures import PARTS, batches
from bench.cost import Cost, measure
from bench.running import judged
from bench.scoring import ScoredOutcome
from bench.tables import tables, wrong

EACH, EACH_QUICK = 16, 2
FOLDER = Path("var/bench")
_COSTS = ((20_000.0, 5.0), (1_000_000.0, 10.0))


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    chosen = _arguments(arguments)
    todo = [b for b in batches(chosen.each, held_out=chosen.held_out) if b.part in chosen.parts]
    outcomes: list[ScoredOutcome] = []
    for n, found in enumerate(judged(todo, chosen.jobs), start=1):
        outcomes += found
        if sys.stderr.isatty():
            sys.stderr.write(f"\r{n} of {len(todo)} batches")
    costs = [] if chosen.no_cost else [measure(*kind) for kind in _COSTS[: chosen.kinds]]
    for name, text in tables(outcomes, costs).items():
        sys.stdout.write(f"\n{name}\n\n{text}\n")
    sys.stdout.write(f"\nWrong sets by the twin: {wrong(outcomes)}\n")
    path = chosen.json or result_path(held_out=chosen.held_out)
    write(path, outcomes, costs)
    sys.stdout.write(f"Every outcome: {path}\n")


def result_path(*, held_out: bool) -> Path:
    """Return where the outcomes lie unless another file was named."""
    return FOLDER / ("held-out.json" if held_out else "bench.json")


def write(path: Path, outcomes: list[ScoredOutcome], costs: list[Cost]) -> None:
    """Write outcomes and costs, one outcome a line."""
    path.parent.mkdir(parents=True, exist_ok=True)
    lines = ",\n".join(json.dumps(o.to_json()) for o in outcomes)
    path.write_text(
        f'{{"costs": {json.dumps([c.to_json() for c in costs])},\n"outcomes": [\n{lines}\n]}}\n',
        encoding="utf-8",
    )


def read(path: Path) -> tuple[list[ScoredOutcome], list[Cost]]:
    """Return what `write` wrote."""
    values = json.loads(path.read_text(encoding="utf-8"))
    return [ScoredOutcome.from_json(o) for o in values["outcomes"]], [
        Cost(**c) for c in values["costs"]
    ]


def _arguments(arguments: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="bench.balance", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="an eighth of the captures")
    parser.add_argument("--each", type=int, help="good captures of each layout and family")
    parser.add_argument("--held-out", action="store_true", help="other seeds, kept aside")
    parser.add_argument("--parts", nargs="+", choices=PARTS, default=PARTS)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    parser.add_argument("--no-cost", action="store_true", help="leave time and memory out")
    parser.add_argument("--json", type=Path, help=f"file for the outcomes, else in {FOLDER}/")
    # what only other benches are told is of no interest here
    chosen, _ = parser.parse_known_args(arguments)
    chosen.each = chosen.each or (EACH_QUICK if chosen.quick else EACH)
    chosen.kinds = 1 if chosen.quick else len(_COSTS)
    return chosen


if __name__ == "__main__":
    main(sys.argv[1:])
