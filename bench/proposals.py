"""What a set-up is proposed by a file's own samples, against the truth.

`python -m bench.proposals` takes 32 captures of each family, with battery, crank teeth, one
cylinder's pressure, a trigger and an idle channel beside clamp and sync, in a shuffled order and
without names, a third without units, and all references. `--first` adds to the seeds.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from bench.tables import table
from traces.core.proposal import ChannelRoles, propose, roles_of
from traces.core.readers import ReadError, read
from traces.core.waveform import Channel, Samples, Waveform
from traces.simulator.scenario import Family
from traces.simulator.scenarios import LAYOUTS, draw
from traces.simulator.simulate import Simulated, simulate_many
from traces.simulator.tooth_sensor import draw_sensor, sensor_volts
from traces.simulator.voltage_log import draw_log, log_voltage

FAMILIES: tuple[Family, ...] = ("a", "b", "c")
ROWS = ("clamp", "battery", "sync", "sign", "every", "window", "scale in the first two")

_FIRST: dict[Family, int] = {"a": 8_200_000, "b": 8_300_000, "c": 8_400_000}
_FASTEST_HZ = 100_000.0
_TEETH_FROM_HZ = 5_000.0
_REAL = Path(__file__).parents[2] / "shared" / "real"


@dataclass(frozen=True, slots=True, eq=False)
class Recorded:
    """A recording without names, and what each channel carries."""

    waveform: Waveform
    carries: tuple[str, ...]
    simulated: Simulated


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(prog="bench.proposals", description=__doc__)
    parser.add_argument("--each", type=int, default=2, help="captures of a layout and family")
    parser.add_argument("--first", type=int, default=0, help="added to all seeds")
    chosen = parser.parse_args(arguments)
    found = {family: tally(recorded(family, chosen.each, chosen.first)) for family in FAMILIES}
    rows = [[row, *(_shares(found[family], row) for family in FAMILIES)] for row in ROWS]
    _say(table(["", *(f"family {family}" for family in FAMILIES)], rows))
    _say("\nright / none proposed / wrong")
    for line in _real_lines():
        _say(line)


def recorded(family: Family, each: int, first: int = 0) -> Iterator[Recorded]:
    """Yield recordings of a family, each with channels of every kind in an order of its own."""
    scenarios = [
        draw(_FIRST[family] + first + 100 * i + j, layout=layout, family=family)
        for i, layout in enumerate(LAYOUTS)
        for j in range(each)
    ]
    slowed = [replace(s, rate_hz=min(s.rate_hz, _FASTEST_HZ)) for s in scenarios]
    for simulated in simulate_many(slowed):
        yield nameless(simulated)


def nameless(simulated: Simulated) -> Recorded:
    """Return a capture with channels of other kinds beside, shuffled and called by numbers."""
    scenario, track = simulated.scenario, simulated.truth.track
    rng = np.random.default_rng([scenario.seed, 77])
    samples, rate_hz = simulated.waveform.samples, scenario.rate_hz
    time_s = np.arange(samples) / rate_hz
    clamp, sync = simulated.waveform.channels[:2]
    battery = log_voltage(scenario, track, replace(draw_log(scenario.seed), rate_hz=rate_hz))
    pressure = np.interp(time_s, track.time_s, track.pressure_pa[:, 0]) * 2e-6
    kinds: list[tuple[str, Samples]] = [
        ("clamp", clamp.values),
        ("sync" if scenario.sync else "noise", sync.values),
        ("battery", _fitted(battery.values, samples)),
        ("pressure", _fitted(pressure + rng.normal(0, 0.01, samples), samples)),
        ("trigger", _fitted(np.where(time_s > scenario.before_s + 0.1, 5.0, 0.0), samples)),
        ("idle", np.full(samples, 1.0, dtype=np.float32)),
    ]
    if rate_hz >= _TEETH_FROM_HZ:
        sensor = replace(draw_sensor(scenario.seed), rate_hz=rate_hz)
        kinds.append(("teeth", _fitted(sensor_volts(scenario, track, sensor).values, samples)))
    order = rng.permutation(len(kinds))
    unit = None if rng.random() < 1 / 3 else "V"
    channels = tuple(
        Channel(str(n), unit, np.array(kinds[k][1])) for n, k in enumerate(order, start=1)
    )
    return Recorded(Waveform(0.0, rate_hz, channels), tuple(kinds[k][0] for k in order), simulated)


def tally(recordings: Iterator[Recorded]) -> Counter[tuple[str, str]]:
    """Count what was proposed rightly, not at all, and wrongly."""
    counts: Counter[tuple[str, str]] = Counter()
    for one in recordings:
        for row, outcome in outcomes(one, roles_of(one.waveform)):
            counts[row, outcome] += 1
    return counts


def outcomes(one: Recorded, roles: ChannelRoles) -> Iterator[tuple[str, str]]:
    """Yield for each thing proposed whether it is right, none or wrong."""
    scenario, truth = one.simulated.scenario, one.simulated.truth
    parts = (("clamp", roles.clamp), ("battery", roles.battery), ("sync", roles.sync))
    for part, seen in parts:
        carried = one.carries[seen.channel] if seen else None
        if part not in one.carries:
            yield part, "wrong" if carried else "right"
        else:
            yield part, "none" if carried is None else "right" if carried == part else "wrong"
    order = scenario.engine.firing_order
    fuel = scenario.setup().fuel
    units = tuple(channel.unit for channel in one.waveform.channels)
    found = propose(roles, units=units, order=order, fuel=fuel)
    if roles.clamp and one.carries[roles.clamp.channel] == "clamp":
        yield "sign", "right" if roles.clamp.inverted == scenario.clamp.inverted else "wrong"
        scales = [choice.mv_per_a for choice in found.scales]
        if scenario.clamp.mv_per_a in scales:
            first = scenario.clamp.mv_per_a in scales[:2]
            yield "scale in the first two", "right" if first else "wrong"
    if roles.sync and scenario.sync and one.carries[roles.sync.channel] == "sync":
        every_right = found.every_deg == scenario.sync.every_deg
        unsure = "none" if not found.every_sure else "wrong"
        yield "every", "right" if every_right else unsure
        is_window = roles.sync.is_window == (scenario.sync.event == "cam")
        yield "window", "right" if is_window else "wrong"
    if truth.rpm <= 0:
        raise ValueError("this engine did not turn")


def _fitted(values: np.ndarray, samples: int) -> Samples:
    some = np.asarray(values, dtype=np.float32)[:samples]
    return np.pad(some, (0, samples - some.size), mode="edge")


def _shares(counts: Counter[tuple[str, str]], row: str) -> str:
    return " / ".join(str(counts[row, outcome]) for outcome in ("right", "none", "wrong"))


def _real_lines() -> Iterator[str]:
    """Yield what is proposed for measured files, where they are at hand."""
    if not _REAL.is_dir():
        return
    for path in sorted(p for p in _REAL.iterdir() if p.is_file() and p.suffix != ".md"):
        try:
            recording = read(path)
            roles = roles_of(recording.waveform)
        except ReadError:
            continue
        names = [channel.name for channel in recording.channels]
        parts = (("clamp", roles.clamp), ("battery", roles.battery), ("sync", roles.sync))
        told = [f"{part} {names[seen.channel]}" for part, seen in parts if seen]
        yield f"{path.name}: " + ("; ".join(told) or "nothing")


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")


def command(arguments: Sequence[str] | None = None) -> None:
    """Run with the arguments given, else with those of the process."""
    main(list(sys.argv[1:] if arguments is None else arguments))


if __name__ == "__main__":
    command()
