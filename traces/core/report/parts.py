"""Figures that only some analyses have, each a part of a report with a type of its own.

Values are rounded where a part is made, so that one read back is equal to one just made. A part
that changes its fields changes the form that results are stored in: see `stored_schema`.
"""

from dataclasses import dataclass, fields, replace
from typing import Any, Literal, TypeAlias

from engines.core.spacing import FiringAngles
from traces.core.plain_json import PlainJson, fields_json
from traces.core.report.cycle_uses import CycleUses
from traces.core.report.pressure_figures import PressureFigures
from traces.core.setup import SyncEvent

Pattern: TypeAlias = Literal["even", "uneven", "unclear"]
"""What a recording shows plainly of its compressions, without a fitted engine."""

Figures: TypeAlias = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class JudgedLayout:
    """How the firing order lies over the cycle that was judged.

    Parameters
    ----------
    amps_known
        Whether levels are amps; else they are in an unknown scale.
    offset_deg
        Where humps stand from their top dead centres.
    explained
        Share of the mean cycle's variance that the method accounts for, 0 to 1.
    first_cylinders
        Which cylinder may stand at the first position, for each layout that fits, the likeliest
        first; None in results from before this was told.
    """

    amps_known: bool = False
    offset_deg: float | None = None
    explained: float | None = None
    first_cylinders: tuple[tuple[int, ...], ...] | None = None


@dataclass(frozen=True, slots=True)
class LabelConfidence:
    """How sure the cylinder numbers are, where the sync alone decides them.

    Parameters
    ----------
    confidence
        That they are right, against a shift by any number of firings; 0 to 1.
    tdc_after_event_deg
        Where the fit puts the sync cylinder's firing top dead centre.
    """

    confidence: float
    tdc_after_event_deg: float


@dataclass(frozen=True, slots=True)
class CycleFit:
    """The mean engine cycle as measured and as fitted.

    Parameters
    ----------
    measured, model
        Over their mean, `level`, at equal shares of the cycle's time, or at `share`.
    angle_deg
        Crank angle of each; empty in results from before the angles were told.
    tdc_deg
        Where each position's compression ends; empty in the same.
    level, rest
        The mean in the signal's own unit, and what lies under it in the recording; `level` is
        None in results from before it was told.
    begins_at
        Where the report's cycles begin in this one, as a share of it.
    share
        Share of the cycle's time at each value, where they stand at even angles; else empty.
    """

    measured: Figures
    model: Figures
    angle_deg: Figures = ()
    tdc_deg: Figures = ()
    level: float | None = None
    rest: float = 0.0
    begins_at: float = 0.0
    share: Figures = ()


@dataclass(frozen=True, slots=True)
class TwinFigures:
    """Figures of the fitted engine: currents over the mean one, shares, and its inertia."""

    stall_over_mean: float
    knee_over_mean: float
    starter_share_of_inertia: float
    inertia: float
    clutch_free_share: float
    residual_share: float


@dataclass(frozen=True, slots=True)
class TeethFit:
    """How well crank teeth were followed, and how unevenly they are spaced."""

    residual_share: float
    spacing_error_deg: float
    clutch_free_share: float


@dataclass(frozen=True, slots=True)
class SecondCompression:
    """An exhaust valve that stays shut: places, from 0, of its cylinder and of the one beneath.

    `on` is None where the second compression falls between two others.
    """

    of: int
    on: int | None


@dataclass(frozen=True, slots=True)
class PlainFigures:
    """The plain reading: its pattern, and each position's swing over the sound ones'."""

    pattern: Pattern
    relative: Figures


@dataclass(frozen=True, slots=True)
class OpenedPlug:
    """Which position is the cylinder whose plug was out, and whether it names the others."""

    cylinder: int
    position: int
    names_the_others: bool


@dataclass(frozen=True, slots=True)
class VoltageFigures:
    """Of the battery's voltage: what it is at rest, from which its sag is counted."""

    rest_v: float


@dataclass(frozen=True, slots=True)
class ToothFigures:
    """Of crank teeth: the wheel, and the crank's speed.

    Parameters
    ----------
    teeth, missing
        Places a turn, and how many of them are empty.
    pattern
        The wheel as people write it, like 60-2; empty where it has no such name.
    speed_at_s, speed_rpm
        Crank speed over time, in the file's own time.
    speed_by_angle
        Crank angle within the cycle and the speed there; empty where no cycle could be told.
    """

    teeth: int
    missing: int
    pattern: str = ""
    speed_at_s: Figures = ()
    speed_rpm: Figures = ()
    speed_by_angle: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class MeasuredEventAngle:
    """Where an event stands that the set-up asks to measure.

    Parameters
    ----------
    angle_deg, spread_deg, count, other_angles_deg
        As it was measured; see `measure_event_angle`.
    event, cylinder, channel
        What was measured, from whose firing top dead centre, and where it was recorded.
    """

    angle_deg: float
    spread_deg: float
    count: int
    other_angles_deg: Figures
    event: SyncEvent
    cylinder: int
    channel: str


@dataclass(frozen=True, slots=True)
class RunningFigures:
    """Of an idling engine.

    Parameters
    ----------
    rpm
        Mean speed of the stretch judged.
    wheel
        The crank sensor's wheel as people write it.
    is_level_measured
        Whether what a firing has to give comes from the crank coasting after it was switched off.
    grades
        By position: even, weak, dead, comes-and-goes.
    missed
        By position, the share of firings that gave next to nothing where it comes and goes.
    is_two_mass
        Whether a flywheel of two masses explains the teeth best.
    """

    rpm: float
    wheel: str
    is_level_measured: bool
    grades: tuple[str, ...] = ()
    missed: Figures = ()
    is_two_mass: bool = False


@dataclass(frozen=True, slots=True)
class ReportParts(PlainJson):
    """What only some reports have; None where this one has it not.

    Parameters
    ----------
    firing_angles
        Of engines whose angles need a look.
    cycle_uses
        Where a crank was found.
    layout
        Where figures were taken.
    label
        Where the sync alone decides the cylinder numbers.
    cycle_fit, twin, teeth_fit, second_compression
        Of a fitted engine.
    plain
        Of the plain reading, whether it speaks or stands beside a refusal.
    opened_plug
        Where the position of the opened cylinder is known.
    voltage, teeth
        Of the signal that was judged.
    event_angle
        Where it could be measured.
    running
        Of an idling engine.
    pressure
        Of one cylinder's pressure.
    """

    firing_angles: FiringAngles | None = None
    cycle_uses: CycleUses | None = None
    layout: JudgedLayout | None = None
    label: LabelConfidence | None = None
    cycle_fit: CycleFit | None = None
    twin: TwinFigures | None = None
    teeth_fit: TeethFit | None = None
    second_compression: SecondCompression | None = None
    plain: PlainFigures | None = None
    opened_plug: OpenedPlug | None = None
    voltage: VoltageFigures | None = None
    teeth: ToothFigures | None = None
    event_angle: MeasuredEventAngle | None = None
    running: RunningFigures | None = None
    pressure: PressureFigures | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the parts that are there as plain JSON values, by name."""
        return {name: part for name, part in fields_json(self).items() if part is not None}

    def with_those_of(self, other: "ReportParts") -> "ReportParts":
        """Return these parts with all that the other has, which count before one's own."""
        theirs = {f.name: getattr(other, f.name) for f in fields(other)}
        return replace(self, **{name: part for name, part in theirs.items() if part is not None})


NO_PARTS = ReportParts()
