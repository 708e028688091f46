"""Figures of cams against the crank, and of cams beside a known-good recording."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

from traces.core.plain_json import PlainJson
from traces.core.report.pressure_figures import Interval

CamCall: TypeAlias = Literal["in-place", "late", "early", "not-settled"]
CamPlace: TypeAlias = Literal[
    "none", "one-cam", "bank", "intake", "exhaust", "all", "mixed", "open"
]
"""What moved: nothing, one cam, all cams of one bank, all of one kind, every cam, or some that
have nothing in common; `open` where not every cam is settled."""


@dataclass(frozen=True, slots=True)
class CamEdge(PlainJson):
    """One edge of a cam sensor, as it comes back every engine cycle.

    Parameters
    ----------
    side
        Rising or falling.
    angle
        Crank degrees after the wheel's first tooth, 0 to 720 (to the wheel's own repeat, where that
        is less), with its interval.
    after_teeth
        The same as places of the wheel.
    spread_deg
        Standard deviation from cycle to cycle.
    cycles
        In how many cycles it was seen.
    """

    side: Literal["rising", "falling"]
    angle: Interval
    after_teeth: float
    spread_deg: float
    cycles: int


@dataclass(frozen=True, slots=True)
class CamBeside(PlainJson):
    """One cam beside the known-good recording.

    Parameters
    ----------
    later_deg
        How much later it is, crank degrees; negative is earlier.
    sprocket_teeth, later_teeth, whole_teeth
        Teeth of the named sprocket on the cam, how many of them the shift is, and the whole number
        that it fits; None where no sprocket was named, or the shift fits none.
    uneven_deg
        Standard deviation of the shift from edge to edge: a sound wheel's edges move alike.
    call
        In place, late, early, or not settled.
    """

    later_deg: Interval
    sprocket_teeth: int | None
    later_teeth: float | None
    whole_teeth: int | None
    uneven_deg: float
    call: CamCall


@dataclass(frozen=True, slots=True)
class CamFigures(PlainJson):
    """One cam.

    Parameters
    ----------
    name, bank, valves
        Its channel, and the bank and valves that the person said.
    edges
        In order of angle.
    repeats_deg
        After how much its edges look the same; 720 for a cam that tells both turns apart.
    moves_deg
        How far its phase wanders within the recording, highest less lowest.
    beside
        Beside the known-good one.
    """

    name: str
    bank: int | None
    valves: Literal["intake", "exhaust"] | None
    edges: tuple[CamEdge, ...]
    repeats_deg: float
    moves_deg: float
    beside: CamBeside | None = None


@dataclass(frozen=True, slots=True)
class CamsFigures(PlainJson):
    """All cams of a recording.

    Parameters
    ----------
    state, rpm, cycles
        Cranking or running, mean speed, engine cycles.
    wheel, wheel_repeats_deg
        The crank's wheel as it is written, and after how many degrees it looks the same.
    crank_side
        Which edges of the crank's teeth are counted.
    cams
        As they were named.
    known_good
        The recording they are laid beside.
    moved
        What moved, by all cams together.
    moved_bank
        The bank, where `moved` is a bank.
    """

    state: Literal["cranking", "running"]
    rpm: float
    cycles: float
    wheel: str
    wheel_repeats_deg: float
    crank_side: Literal["rising", "falling"]
    cams: tuple[CamFigures, ...]
    known_good: str | None = None
    moved: CamPlace | None = None
    moved_bank: int | None = None
