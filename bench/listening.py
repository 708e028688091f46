"""Whether simulated cranking sounds are told even or uneven, and how often it cannot be told.

`python -m bench.listening` draws engines of 3 to 8 cylinders, rooms and telephones. The same seeds
give the same figures; `--held-out` takes others.
"""

import argparse
import sys
from collections import Counter

import numpy as np

from traces.core.cranking_sound import CrankingSound, judge_sound
from traces.simulator.heard_crank import RATE_HZ, heard_crank

_FIRST, _FIRST_HELD_OUT = 40_000, 80_000
_ENGINES = 100
_CYLINDERS = (3, 4, 4, 4, 5, 6, 6, 8)
_FAULTS: dict[str, tuple[float, ...]] = {
    "none": (),
    "one at 0.8": (0.8,),
    "one at 0.4": (0.4,),
    "one dead": (0.0,),
    "two at 0.3": (0.3, 0.3),
}


def heard(seed: int, fault: str) -> tuple[CrankingSound, float]:
    """Return what is told of one engine, and its true speed in rpm."""
    rng = np.random.default_rng(seed)
    cylinders = int(rng.choice(_CYLINDERS))
    compressions = 1.0 + rng.uniform(-0.04, 0.04, cylinders)
    at = rng.permutation(cylinders)
    for place, share in zip(at, _FAULTS[fault], strict=False):
        compressions[place] *= share
    crank = heard_crank(
        rng,
        compressions,
        rpm=rng.uniform(150.0, 310.0),
        seconds=rng.uniform(4.0, 12.0),
        noise_db=float(rng.choice([5.0, 10.0, 20.0])),
        is_levelled=bool(rng.random() < 0.5),
    )
    return judge_sound(crank.samples, RATE_HZ, cylinders), crank.rpm


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--held-out", action="store_true", help="seeds kept aside")
    parser.add_argument("--engines", type=int, default=_ENGINES)
    options = parser.parse_args()
    first = _FIRST_HELD_OUT if options.held_out else _FIRST
    _say("| fault | engines | even | uneven | cannot tell | speed off by over 5 % |")
    _say("| --- | --- | --- | --- | --- | --- |")
    for fault in _FAULTS:
        all_heard = [heard(first + i, fault) for i in range(options.engines)]
        told = Counter(sound.answer for sound, _ in all_heard)
        known = [(sound.rpm, rpm) for sound, rpm in all_heard if sound.rpm]
        off = sum(abs(found / rpm - 1.0) > 0.05 for found, rpm in known)
        _say(
            f"| {fault} | {len(all_heard)} | {told['even']} | {told['uneven']} | "
            f"{told['cannot-tell']} | {off} of {len(known)} |"
        )


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


if __name__ == "__main__":
    main()
