"""Write the bench's tables and plots into docs/balance.md, between their marks.

`python -m bench.document` takes the outcomes that `make bench` left, of the first set of seeds
and, where it is there, of the one kept aside. A table stands between `<!-- bench: NAME -->` and
`<!-- end -->`; the names are those of `bench.tables.tables` and `bench.traps.tables`, with
`held-out ` in front for the other seeds. Text outside the marks stays.
"""

import argparse
import re
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from bench import traps
from bench.balance import read, result_path
from bench.captures import FAMILIES
from bench.plot import scatter
from bench.running import METHODS
from bench.scoring import ScoredOutcome
from bench.tables import tables

_PAGE = Path("docs/balance.md")
_PLOTS = Path("docs/plots")
_MARKED = re.compile(r"<!-- bench: (?P<name>[^>]+?) -->\n.*?<!-- end -->", re.DOTALL)


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(prog="bench.document", description=__doc__)
    parser.add_argument("--page", type=Path, default=_PAGE)
    parser.add_argument("--plots", type=Path, default=_PLOTS)
    parser.add_argument("--json", type=Path, default=result_path(held_out=False))
    parser.add_argument("--held-out", type=Path, default=result_path(held_out=True))
    chosen = parser.parse_args(arguments)
    made: dict[str, str] = {}
    if chosen.held_out.exists():
        made |= {f"held-out {k}": v for k, v in tables(*read(chosen.held_out)).items()}
    outcomes, costs = read(chosen.json)
    made |= tables(outcomes, costs)
    for before, held_out in (("", False), ("held-out ", True)):
        if (path := traps.result_path(held_out=held_out)).exists():
            made |= {before + k: v for k, v in traps.tables(traps.read(path)).items()}
    text, missing = filled(chosen.page.read_text(encoding="utf-8"), made)
    chosen.page.write_text(text, encoding="utf-8")
    plot(chosen.plots, [o for o in outcomes if o.part == "good"])
    for name in missing:
        sys.stderr.write(f"{chosen.page} asks for the table “{name}”, which was not measured.\n")


def filled(text: str, made: Mapping[str, str]) -> tuple[str, list[str]]:
    """Return the page with tables between their marks, and the names it asks for in vain."""
    missing: list[str] = []

    def put(found: re.Match[str]) -> str:
        name = found["name"]
        if name not in made:
            missing.append(name)
            return found[0]
        return f"<!-- bench: {name} -->\n\n{made[name]}\n\n<!-- end -->"

    return _MARKED.sub(put, text), missing


def plot(folder: Path, outcomes: Sequence[ScoredOutcome]) -> None:
    """Draw truth against figure, by family and method."""
    folder.mkdir(parents=True, exist_ok=True)
    for family in FAMILIES:
        for method in METHODS:
            points = [
                (truth, truth + error)
                for o in outcomes
                if (o.family, o.method) == (family, method.name)
                for truth, error in zip(o.truths, o.errors, strict=True)
            ]
            name = f"balance-{family}-{method.name}.svg"
            scatter(folder / name, f"Family {family}, {method.name}", points)


if __name__ == "__main__":
    main(sys.argv[1:])
