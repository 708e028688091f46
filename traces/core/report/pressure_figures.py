"""Figures of one cylinder's pressure, and of cylinders measured in turn."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

from traces.core.plain_json import PlainJson

PressureState: TypeAlias = Literal["cranking", "running"]
ZeroFrom: TypeAlias = Literal["rest", "entered", "intake", "compression"]
"""What the transducer's zero is taken from: a stretch at rest, what was entered, the intake's
pressure while cranking, or the shape of the compression."""


@dataclass(frozen=True, slots=True)
class Interval(PlainJson):
    """A figure with its 95 % interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class PressureCurve(PlainJson):
    """The mean cycle over crank angle.

    Parameters
    ----------
    first_deg, step_deg
        From the firing top dead centre: compression -180 to 0, expansion to 180, exhaust to 360,
        intake to 540.
    gauge_kpa
        Over the pressure of the air, shape (361,).
    """

    first_deg: float
    step_deg: float
    gauge_kpa: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class BesideKnownGood(PlainJson):
    """One cylinder beside a known-good capture of that engine.

    Parameters
    ----------
    file
        The known-good one.
    intake_cam_deg, exhaust_cam_deg
        How much later the intake closes and the exhaust opens, crank degrees; negative is earlier.
    peak_share
        This peak over that one.
    back_pressure_kpa
        How much more the exhaust holds back.
    intake_kpa
        How much higher the intake's pressure is.
    loss_share
        This loss a second over that one.
    """

    file: str
    intake_cam_deg: Interval | None
    exhaust_cam_deg: Interval | None
    peak_share: Interval
    back_pressure_kpa: Interval | None
    intake_kpa: Interval
    loss_share: Interval | None


@dataclass(frozen=True, slots=True)
class MeasuredInTurn(PlainJson):
    """One cylinder of several that were measured in turn.

    Parameters
    ----------
    cylinder, file
        Which one, and its recording.
    peak_kpa, rpm
        As each recording gives them.
    loss_per_s, loss_rank
        Loss a second about top dead centre; 1 is the one that loses most.
    exhaust_opens_deg, intake_closes_deg, back_pressure_kpa
        As each recording gives them.
    """

    cylinder: int
    file: str
    peak_kpa: float
    rpm: float
    loss_per_s: float | None
    loss_rank: int | None
    exhaust_opens_deg: float | None
    intake_closes_deg: float | None
    back_pressure_kpa: float | None


@dataclass(frozen=True, slots=True)
class KneeScatter(PlainJson):
    """How much angles scatter from cycle to cycle alone, standard deviations in degrees.

    What two captures of one engine have in common is not in it, so that their difference may be
    trusted more than either angle. None where an angle does not show.
    """

    exhaust_opens_deg: float | None = None
    exchange_deg: float | None = None
    intake_closes_deg: float | None = None


@dataclass(frozen=True, slots=True)
class PressureFigures(PlainJson):
    """Of one cylinder's pressure. Pressures are over that of the air, in kPa.

    Parameters
    ----------
    state
        Cranking, or running with this cylinder cut out.
    cylinder
        Its number, where it was said.
    rpm, cycles, missed
        Mean speed, full cycles in the mean, and compressions that are missing between them.
    zero_from, air_kpa, is_air_known
        What the transducer's zero is taken from, the air's absolute pressure, and whether that was
        said.
    compression_ratio, is_ratio_known
        What angles and exponents rest on, and whether it was said.
    peak_kpa
        Greatest pressure of the mean cycle.
    peaks_kpa, peak_spread_percent, towers
        Of each cycle, their standard deviation, and whether they are alike.
    loss_deg
        How far before top dead centre the peak comes.
    compression_exponent, expansion_exponent
        Of p V^n on both legs.
    leg_loss_percent
        Pressure that expansion lacks at the same volume.
    loss_per_s
        Relative loss of pressure a second about top dead centre, by leak and cold walls.
    pocket_kpa
        Lowest pressure before the exhaust valve opens.
    exhaust_opens_deg
        Where pressure has gone 30 % of the way from expansion to the exhaust's.
    back_pressure_kpa, back_pressure_high_kpa
        Mean and greatest pressure while the piston pushes out.
    exchange_begins_deg, exchange_deg, exchange_ends_deg
        Where pressure has gone 10, 50 and 90 % of the way from exhaust to intake about the top
        dead centre between them.
    intake_kpa
        Mean pressure of the intake stroke.
    intake_closes_deg
        Where compression, followed backwards, begins at the intake's pressure.
    exhaust_opens_before_bottom_deg, intake_closes_after_bottom_deg
        The same angles as people give them.
    curve
        The mean cycle.
    beside
        A known-good one.
    in_turn
        All cylinders, where several were measured.
    scatter
        Of the angles that two captures are compared by; None in results from before it was kept.
    """

    state: PressureState
    cylinder: int | None
    rpm: float
    cycles: int
    missed: int
    zero_from: ZeroFrom
    air_kpa: float
    is_air_known: bool
    compression_ratio: float
    is_ratio_known: bool
    peak_kpa: Interval
    peaks_kpa: tuple[float, ...]
    peak_spread_percent: float
    towers: Literal["alike", "unalike"]
    loss_deg: Interval | None
    compression_exponent: Interval | None
    expansion_exponent: Interval | None
    leg_loss_percent: Interval | None
    loss_per_s: Interval | None
    pocket_kpa: Interval
    exhaust_opens_deg: Interval | None
    back_pressure_kpa: Interval | None
    back_pressure_high_kpa: Interval | None
    exchange_begins_deg: Interval | None
    exchange_deg: Interval | None
    exchange_ends_deg: Interval | None
    intake_kpa: Interval
    intake_closes_deg: Interval | None
    exhaust_opens_before_bottom_deg: float | None
    intake_closes_after_bottom_deg: float | None
    curve: PressureCurve
    beside: BesideKnownGood | None = None
    in_turn: tuple[MeasuredInTurn, ...] = ()
    scatter: KneeScatter | None = None
