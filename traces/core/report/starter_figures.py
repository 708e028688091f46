"""Figures of starter and battery, to and from JSON in one place."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Annotated, ClassVar, Literal, TypeAlias

from shopdiag.people.core.words import Text
from traces.core.plain_json import Decimals, PlainJson

Lies: TypeAlias = Literal["below", "within", "above"]

Seconds: TypeAlias = Annotated[float, Decimals(4)]
Volts: TypeAlias = Annotated[float, Decimals(3)]
Amps: TypeAlias = Annotated[float, Decimals(1)]
Mohm: TypeAlias = Annotated[float, Decimals(3)]
Rpm: TypeAlias = Annotated[float, Decimals(1)]
RpmPerS: TypeAlias = Annotated[float, Decimals(2)]


@dataclass(frozen=True, slots=True)
class StarterNote:
    """Where a figure lies against typical ones; never a fault by itself.

    Parameters
    ----------
    figure
        Name of the figure.
    lies
        Against the typical range; None where it is a hint alone.
    message
        What is typical, with the word; the maker's figure wins.
    remedy
        What to check next (common practice); empty where nothing is to be done.
    source
        Where the typical figure is from.
    """

    figure: str
    lies: Lies | None
    message: Text
    remedy: Text
    source: Text


@dataclass(frozen=True, slots=True)
class StarterFigures(PlainJson):
    """What one crank says about starter and battery; None where a figure cannot be known.

    Parameters
    ----------
    start_s
        When the current begins, in the file's own time.
    inrush_peak_a, inrush_at_s
        Largest current above rest in the first third of a second, and when.
    run_up_s
        From the start until the current, averaged over a firing, comes within 10 % of its mean.
    mean_current_a, whole_cycles
        Mean above rest over so many whole engine cycles after the run-up.
    cranking_rpm
        Mean crank speed over the same cycles.
    trend_rpm_per_s, trend_low_rpm_per_s, trend_high_rpm_per_s
        How the speed changes over them, with its 95 % interval; below 0 it falls.
    rest_v, inrush_minimum_v, mean_cranking_v, recovered_v, open_circuit_drop_v
        Voltage before the crank, its minimum at the inrush, its mean over the same cycles, up
        to half a second after the crank, and how far that is below the first.
    inrush_resistance_mohm, ripple_resistance_mohm, steady_resistance_mohm
        Resistance of what lies before the points at which the voltage was measured: -dV/dI over
        the inrush, and over the compressions' ripple; and the whole drop from rest over the mean
        current, which has the battery's polarisation in it.
    inrush_resistance_error_mohm, ripple_resistance_error_mohm
        Their standard errors.
    not_known
        Why a figure is None, by its name, one sentence each.
    limited
        What to mind with a figure that is there, by its name, one sentence each.
    notes
        Typical figures beside these.
    """

    skips_unknown: ClassVar[bool] = True

    start_s: Seconds | None = None
    inrush_peak_a: Amps | None = None
    inrush_at_s: Seconds | None = None
    run_up_s: Seconds | None = None
    mean_current_a: Amps | None = None
    whole_cycles: int | None = None
    cranking_rpm: Rpm | None = None
    trend_rpm_per_s: RpmPerS | None = None
    trend_low_rpm_per_s: RpmPerS | None = None
    trend_high_rpm_per_s: RpmPerS | None = None
    rest_v: Volts | None = None
    inrush_minimum_v: Volts | None = None
    mean_cranking_v: Volts | None = None
    recovered_v: Volts | None = None
    open_circuit_drop_v: Volts | None = None
    inrush_resistance_mohm: Mohm | None = None
    inrush_resistance_error_mohm: Mohm | None = None
    ripple_resistance_mohm: Mohm | None = None
    ripple_resistance_error_mohm: Mohm | None = None
    steady_resistance_mohm: Mohm | None = None
    not_known: Mapping[str, Text] = field(default_factory=dict)
    limited: Mapping[str, Text] = field(default_factory=dict)
    notes: tuple[StarterNote, ...] = ()


FIGURES: tuple[str, ...] = tuple(
    f.name for f in fields(StarterFigures) if f.name not in ("not_known", "limited", "notes")
)
"""Names of the figures, in the published order."""
