"""One cycle of a crank marched by itself: it need not repeat."""

from dataclasses import dataclass

import numpy as np

from traces.core.twin.drive import FREE, Linear, Pair, march
from traces.core.twin.model import STEP_RAD, STEPS, Floats, Profile, TwinState, load_of, time_passed
from traces.core.twin.parameters import LAG, LAG_UNIT_S, drive_of
from traces.core.twin.second_mass import pull_shapes


@dataclass(frozen=True, slots=True, eq=False)
class CycleStart:
    """Where a single cycle begins, and what the usual one is there.

    Parameters
    ----------
    back
        Steps before the first angle of the fitted cycle.
    before
        The same as a share of the cycle's time.
    start
        Squared speeds of starter and crank.
    together
        Whether the clutch holds there.
    duration
        Of the fitted cycle, in the model's time.
    pull
        Torque of the second mass of a flywheel in each step of the fitted cycle, from the first.
    """

    back: int
    before: float
    start: Pair
    together: bool
    duration: float
    pull: Floats

    @classmethod
    def of(cls, state: TwinState, back: int) -> "CycleStart":
        """Look it up in the fitted cycle."""
        orbit = state.orbit
        at = STEPS - back
        time = time_passed(np.sqrt(orbit.crank_sq), np.zeros((STEPS + 1, 2, 0)))[0]
        return cls(
            back=back,
            before=float(1 - time[at] / time[-1]),
            start=(float(orbit.starter_sq[at]), float(orbit.crank_sq[at])),
            together=bool(orbit.mode[at - 1] != FREE),
            duration=float(time[-1]),
            pull=pull_shapes(STEPS) @ state.pulls if state.pulls.size else np.zeros(STEPS),
        )


def simulate_one_cycle(
    usual: CycleStart, profile: Profile, values: Floats, start: Floats, shares: slice
) -> tuple[Floats, Floats]:
    """Return one cycle that need not repeat, and its slopes.

    Parameters
    ----------
    usual
        Where it begins, and the fitted cycle's duration.
    start
        Squared speeds of starter and crank at the start.
    shares
        Which parameters are the peak shares.

    Returns
    -------
    tuple of Floats
        The current at equal shares of the cycle's time and, last, its duration over that of the
        fitted cycle, shape (M + 1,); their slopes by peak shares, friction and the two speeds,
        shape (M + 1, n + 3).
    """
    load, slopes = load_of(profile, values)
    load, slopes = (np.roll(part, usual.back, axis=0) for part in (load + usual.pull, slopes))
    drive = drive_of(values)
    a, b = float(start[0]), float(start[1])
    if usual.together or a >= b:
        a = b = drive.share * a + (1 - drive.share) * b
    orbit = march(load, STEP_RAD, drive, (a, b))
    linear = Linear.of(orbit, load, STEP_RAD, drive)
    n = shares.stop - shares.start
    by = np.concatenate((slopes[:, shares], np.ones((STEPS, 1))), axis=1)
    response = linear.answers(linear.by_load[:, :, None] * by[:, None, :])
    if usual.together:
        response[:, :, :2] = response[:, :, :2].sum(axis=2, keepdims=True) / 2
    response = response[:, :, [*range(2, n + 3), 0, 1]]
    x, y = np.sqrt(orbit.starter_sq), np.sqrt(orbit.crank_sq)
    motor = drive.motor.slopes(x)
    current_by = (motor.current_by_speed / (2 * x))[:, None] * response[:, 0, :]
    time, time_by = time_passed(y, response)
    passed = time / time[-1]
    passed_by = (time_by - passed[:, None] * time_by[-1]) / time[-1]
    late = passed + values[LAG] * LAG_UNIT_S / profile.cycle_s
    m = profile.current.size
    grid = np.arange(m) / m
    at = np.clip(np.searchsorted(late, grid, side="right") - 1, 0, STEPS - 1)
    part = np.clip((grid - late[at]) / (late[at + 1] - late[at]), -1.0, 2.0)
    slope = np.gradient(motor.current, passed)
    nodes = np.concatenate(
        (motor.current[:, None], current_by - slope[:, None] * passed_by), axis=1
    )
    both = nodes[at] + part[:, None] * (nodes[at + 1] - nodes[at])
    lasted = np.concatenate(([time[-1]], time_by[-1])) / usual.duration
    both = np.concatenate((both, lasted[None, :]))
    return both[:, 0], both[:, 1:]
