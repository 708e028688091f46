"""Accuracy of the other signals, battery voltage and crank-sensor teeth, on simulated captures.

`python -m bench.signals` judges 288 captures a signal, a third of each family; `--each` is how many
of each layout and family. The same seeds give the same figures.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Sequence

from bench.scoring import Score, ScoredOutcome, outcome, score
from traces.core.analysis import judge
from traces.core.signal_kinds import Signal
from traces.core.signals import PlainMethod
from traces.simulator.other_signals import CAPTURES
from traces.simulator.scenario import Family
from traces.simulator.scenarios import LAYOUTS, draw
from traces.simulator.simulate import simulate_many

_EACH = 6
_FIRST_SEED: dict[Family, int] = {"a": 410_000, "b": 510_000, "c": 560_000}
_FIRST_FLAWED = 610_000
_FLAWS = ("no-compression", "engine-catches", "battery-collapse", "too-short")
"""Flaws of the crank itself; those of clamp and cable mean nothing here."""

SIGNALS = tuple(CAPTURES)
FAMILIES: tuple[Family, ...] = ("a", "b", "c")

_HEAD = (
    "| signal | family | judged | set right | RMS, points | largest | false calls on sound | "
    "truth in interval | refused | read plainly | of these wrong |\n"
    "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |"
)


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=_EACH, help="captures of a layout and family")
    parser.add_argument("--first", type=int, default=0, help="added to all seeds")
    parser.add_argument("--tell", action="store_true", help="a line for each capture")
    chosen = parser.parse_args(arguments)
    found = {
        (signal, family): _outcomes(family, signal, chosen.each, chosen.first, tell=chosen.tell)
        for family in FAMILIES
        for signal in SIGNALS
    }
    _say(_HEAD)
    for signal in SIGNALS:
        for family in FAMILIES:
            _say(_row(signal, family, found[signal, family]))
    for (signal, family), outcomes in found.items():
        wrong = [f"{o.layout} {o.fault} (seed {o.seed})" for o in score(outcomes).wrong]
        stops = Counter(code for o in outcomes for code in set(o.stops))
        _say(f"\n{signal}, family {family}: wrong: " + ("; ".join(wrong) or "none"))
        _say("refused: " + (", ".join(f"{c} x{n}" for c, n in stops.most_common()) or "none"))
    _tell_flawed(chosen.each, chosen.first)


def _outcomes(
    family: Family, signal: Signal, each: int, first: int, *, tell: bool
) -> list[ScoredOutcome]:
    scenarios = [
        draw(_FIRST_SEED[family] + first + 100 * i + j, layout=layout, family=family)
        for i, layout in enumerate(LAYOUTS)
        for j in range(each)
    ]
    outcomes = []
    for simulated in simulate_many(scenarios):
        waveform, setup = CAPTURES[signal](simulated)
        outcomes.append(outcome(simulated, judge(waveform, setup)))
        if tell:
            _say(_line(signal, outcomes[-1]))
    return outcomes


def _tell_flawed(each: int, first: int) -> None:
    _say(f"\nFlawed captures judged\n\n| flaw | {' | '.join(SIGNALS)} |\n| --- | --- | --- |")
    for i, flaw in enumerate(_FLAWS):
        count = 4 * each
        scenarios = [
            draw(_FIRST_FLAWED + first + 100 * i + j, flaw=flaw, family=FAMILIES[j % 2])
            for j in range(count)
        ]
        judged = Counter[Signal]()
        for simulated in simulate_many(scenarios):
            for signal in SIGNALS:
                waveform, setup = CAPTURES[signal](simulated)
                judged[signal] += judge(waveform, setup).verdict != "not judged"
        cells = " | ".join(f"{judged[signal]} of {count}" for signal in SIGNALS)
        _say(f"| {flaw} | {cells} |")


def _row(signal: str, family: str, outcomes: Sequence[ScoredOutcome]) -> str:
    s: Score = score(outcomes)
    plain = [o for o in outcomes if o.method == PlainMethod.name and o.judged]
    return (
        f"| {signal} | {family} | {s.judged} of {s.captures} | {s.right:.1%} | {100 * s.rms:.1f} | "
        f"{100 * s.largest:.0f} | {s.false_calls} of {s.sound} | {s.inside:.1%} | "
        f"{s.refused:.1%} | {len(plain)} | {sum(o.right is False for o in plain)} |"
    )


def _line(signal: str, o: ScoredOutcome) -> str:
    errors = " ".join(f"{100 * e:+.0f}" for e in o.errors)
    said = ", ".join(o.stops) if not o.judged else ("right" if o.right else "WRONG")
    return f"{signal} {o.family} {o.layout} {o.fault} {o.seed}: {said} [{errors}]"


def _say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1:])
