"""Cams against the crank on simulated engines: how well a moved cam is found.

`python -m bench.cam_timing` records engines that are cranked (two kinds of physics) or idle (two
others) twice: as a known-good one, and in another recording with cams moved by nothing, by some
degrees, or by a tooth of their sprocket. The same seeds give the same figures; `--held-out` takes
others.
"""

import argparse
import sys
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from traces.core.cam_timing import CamChannels, CamError, CamReading, beside_good_cams, read_cams
from traces.core.compression import Array
from traces.core.report import CamBeside, CamsFigures
from traces.core.setup import CamChannel, ToothWheel
from traces.simulator.cams import (
    CRANK_CHANNEL,
    CamRecorder,
    SimulatedCam,
    cam_capture,
    draw_cams,
    shifted,
)
from traces.simulator.running import draw_idle, idle_course
from traces.simulator.scenario import Family
from traces.simulator.scenarios import draw
from traces.simulator.simulate import crank

_FIRST, _FIRST_HELD_OUT = 50_000, 90_000
_CAMS = 4
_BANKS, _VALVES = (1, 1, 2, 2), ("intake", "exhaust", "intake", "exhaust")
_WITHIN_DEG = 1.5
MOVES = ("nothing", "one cam", "a bank", "all", "one tooth")
COURSES = ("cranked, a", "cranked, c", "idling, gas", "idling, impulse")


@dataclass(slots=True)
class Score:
    """What was found of one move.

    Parameters
    ----------
    judged, refused
        Recordings.
    off_deg
        Found shift of each cam less the true one.
    right_calls, wrong_calls, open_calls
        Of cams: in place, late and early as it is, not as it is, and not settled.
    right_place, wrong_place
        Of recordings where every cam is settled: what moved.
    right_teeth, wrong_teeth
        Of cams moved by a tooth.
    """

    judged: int = 0
    refused: int = 0
    off_deg: list[float] = field(default_factory=list)
    right_calls: int = 0
    wrong_calls: int = 0
    open_calls: int = 0
    right_place: int = 0
    wrong_place: int = 0
    right_teeth: int = 0
    wrong_teeth: int = 0


@lru_cache(maxsize=256)
def course(name: str, seed: int) -> tuple[Array, Array]:
    """Return when a simulated crank stands where, in s and degrees."""
    kind, _, physics = name.partition(", ")
    if kind == "cranked":
        family: Family = "a" if physics == "a" else "c"
        track = crank([draw(seed, fault="none", family=family)])[0]
        return track.time_s, np.rad2deg(track.angle_rad)
    cylinders = (3, 4, 5, 6, 8)[seed % 5]
    idle = draw_idle(seed, physics="gas" if physics == "gas" else "impulse", cylinders=cylinders)
    truth = idle_course(replace(idle, lasts_s=4.0))
    return truth.time_s, truth.angle_deg


def moved_by(move: str, seed: int) -> tuple[tuple[float, ...], int]:
    """Return how much later each cam is, and the teeth of the sprocket."""
    rng = np.random.default_rng([seed, 55])
    teeth = int(rng.choice([36, 40, 42, 44, 48, 52]))
    way = float(rng.choice([-1.0, 1.0]))
    by = way * float(rng.uniform(5.0, 14.0))
    of = int(rng.integers(_CAMS))
    rows = {
        "nothing": tuple(rng.uniform(-1.0, 1.0, _CAMS).tolist()),
        "one cam": tuple(by if i == of else 0.0 for i in range(_CAMS)),
        "a bank": tuple(by if _BANKS[i] == _BANKS[of] else 0.0 for i in range(_CAMS)),
        "all": (by,) * _CAMS,
        "one tooth": tuple(way * 720.0 / teeth if i == of else 0.0 for i in range(_CAMS)),
    }
    return rows[move], teeth


def read_simulated(
    name: str, seed: int, cams: Sequence[SimulatedCam], recorder: CamRecorder, noise: int
) -> CamReading:
    """Read one recording of an engine."""
    time_s, angle_deg = course(name, seed)
    waveform = cam_capture(time_s, angle_deg, cams, recorder, noise)
    channels = tuple(
        CamChannel(cam.name, bank, "intake" if valves == "intake" else "exhaust")
        for cam, bank, valves in zip(cams, _BANKS, _VALVES, strict=False)
    )
    wheel = ToothWheel.parse(recorder.wheel)
    return read_cams(waveform, CamChannels(CRANK_CHANNEL, channels, wheel))


def beside(name: str, seed: int, move: str) -> tuple[CamsFigures, tuple[float, ...], int]:
    """Return an engine with moved cams beside itself, by how much they moved, and the sprocket.

    Raises
    ------
    CamError
        If one of the two is refused.
    """
    cams, recorder = draw_cams(seed, _CAMS)
    later, teeth = moved_by(move, seed)
    good = read_simulated(name, seed, cams, recorder, seed)
    # another day: another start of the crank, another recorder
    other = replace(recorder, rate_hz=20_000.0, bits=12)
    now = read_simulated(name, seed, shifted(cams, later), other, seed + 7)
    return beside_good_cams(now, good, "good", teeth), later, teeth


def scored(name: str, move: str, seeds: Sequence[int]) -> Score:
    """Return what is found over seeds."""
    score = Score()
    for seed in seeds:
        try:
            figures, later, _ = beside(name, seed, move)
        except CamError:
            score.refused += 1
            continue
        score.judged += 1
        for cam, true in zip(figures.cams, later, strict=True):
            if cam.beside:
                _count(score, cam.beside, true, move)
        if figures.moved == "open":
            continue
        wanted = {"nothing": "none", "one cam": "one-cam", "a bank": "bank", "all": "all"}
        right = figures.moved == wanted.get(move, "one-cam")
        score.right_place += right
        score.wrong_place += not right
    return score


def _count(score: Score, found: CamBeside, true: float, move: str) -> None:
    score.off_deg.append(found.later_deg.value - true)
    wanted = "in-place" if abs(true) <= 1.0 else "late" if true > 0 else "early"
    if found.call == "not-settled":
        score.open_calls += 1
    elif found.call == wanted:
        score.right_calls += 1
    else:
        score.wrong_calls += 1
    if move == "one tooth" and true:
        right = found.whole_teeth == (1 if true > 0 else -1)
        score.right_teeth += right
        score.wrong_teeth += not right


def rows(first: int, engines: int) -> Iterator[tuple[str, Score]]:
    """Yield each move's score, over all courses."""
    for move in MOVES:
        for name in COURSES:
            yield f"{move}; {name}", scored(name, move, range(first, first + engines))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--held-out", action="store_true", help="seeds kept aside")
    parser.add_argument("--quick", action="store_true", help="a few engines")
    parser.add_argument("--engines", type=int, default=12)
    options = parser.parse_args()
    first = _FIRST_HELD_OUT if options.held_out else _FIRST
    _say(
        "| moved; course | read | refused | rms, degrees | calls right | wrong | open | "
        "what moved: right | wrong | tooth right | wrong |"
    )
    _say("| --- |" + " --- |" * 10)
    totals: dict[str, int] = defaultdict(int)
    for label, score in rows(first, 3 if options.quick else options.engines):
        rms = float(np.sqrt(np.mean(np.square(score.off_deg)))) if score.off_deg else 0.0
        _say(
            f"| {label} | {score.judged} | {score.refused} | {rms:.2f} | {score.right_calls} | "
            f"{score.wrong_calls} | {score.open_calls} | {score.right_place} | "
            f"{score.wrong_place} | {score.right_teeth} | {score.wrong_teeth} |"
        )
        totals["off"] += sum(abs(off) <= _WITHIN_DEG for off in score.off_deg)
        totals["cams"] += len(score.off_deg)
    _say(f"\nWithin {_WITHIN_DEG} degrees: {totals['off']} of {totals['cams']} cams.")


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


if __name__ == "__main__":
    main()
