"""What a wet test says: the rise over what the oil does by itself, because oil takes up space."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum

from shopdiag.people.core.words import gettext_noop

WET_RISE = 0.10
"""Share by which a reading must stand above what is expected to count as risen
(common practice: makers give no figure, and a gauge repeats within a few per cent)."""

OIL_SHARE = 0.01
"""Oil of a wet test as a share of the cylinder's swept volume (common practice)."""

MOST_OIL_SHARE = 0.02
"""Above this the oil lifts a reading by itself about as much as sealed rings would (computed by
`oil_lift`)."""

COMPRESSION_RATIO = 12.0
"""Taken where nobody says it: at the upper end of road petrol engines (common practice), because
the higher it is, the more the oil does by itself."""

_POLYTROPIC = 1.3
_ATMOSPHERE_KPA = 101.3
_SAME_OIL = 1.2


def oil_lift(oil_ml: float, swept_ml: float, ratio: float = COMPRESSION_RATIO) -> float:
    """Return by what share oil alone lifts the compression, all of it lying above the piston.

    The oil takes its volume away from the clearance volume; the pressure at the end of the
    stroke follows (V / V_c) ** 1.3.

    Parameters
    ----------
    oil_ml, swept_ml
        Oil put in, and swept volume of the one cylinder, in millilitres.
    ratio
        Compression ratio.

    Returns
    -------
    float
        Rise of the absolute pressure, 0.13 = 13 %; infinite where the oil fills the clearance.

    Raises
    ------
    ValueError
        If a volume is negative or the ratio is not above 1.
    """
    if oil_ml < 0 or swept_ml <= 0 or ratio <= 1:
        raise ValueError("Oil, swept volume and ratio must be those of an engine.")
    clearance_ml = swept_ml / (ratio - 1)
    if oil_ml >= clearance_ml:
        return float("inf")
    with_oil = (swept_ml + clearance_ml - oil_ml) / (clearance_ml - oil_ml)
    return float((with_oil / ratio) ** _POLYTROPIC - 1)


class Wet(StrEnum):
    """What a wet test points at."""

    RINGS = "rings"
    VALVES = "valves"
    GASKET_BETWEEN = "gasket"
    AMBIGUOUS = "ambiguous"


WET_WORDS: dict[Wet, str] = {
    Wet.RINGS: gettext_noop("rises by more than the oil explains: rings or bore"),
    Wet.VALVES: gettext_noop("does not rise with oil: valves or head gasket"),
    Wet.GASKET_BETWEEN: (
        gettext_noop("two neighbours are low and oil changes neither: head gasket between them")
    ),
    Wet.AMBIGUOUS: (
        gettext_noop(
            "rises, but the oil alone may do that: put the same oil into a good "
            "cylinder and compare"
        )
    ),
}
"""Makers' service texts say what a rise means (examples); the maker of this engine wins."""


@dataclass(frozen=True, slots=True)
class WetReading:
    """What a wet test says of one low cylinder.

    Parameters
    ----------
    meaning
        What it points at.
    expected_kpa
        Reading that the oil alone explains; None where nothing tells it.
    control
        The good cylinder that tells it; None where it is computed or not known.
    """

    meaning: Wet
    expected_kpa: float | None = None
    control: int | None = None


def wet_read(
    dry_kpa: Mapping[int, float],
    wet_kpa: Mapping[int, float],
    neighbours: Mapping[int, Collection[int]],
    *,
    low: Collection[int],
    oil_ml: Mapping[int, float] | None = None,
    swept_ml: float | None = None,
) -> dict[int, WetReading]:
    """Say what oil in the cylinder changed, for each low cylinder with both readings.

    A good cylinder with the same oil is the control: what counts is the rise over the control's.
    Without one a rise counts only where it exceeds what the oil alone may do.

    Parameters
    ----------
    dry_kpa, wet_kpa
        Gauge readings before and after, in kPa by cylinder.
    neighbours
        Cylinders beside each one on the same bank.
    low
        Cylinders that are judged; all others are controls.
    oil_ml
        Oil by cylinder, where it was written down.
    swept_ml
        Swept volume of one cylinder, where it is known.

    Returns
    -------
    dict
        Cylinder to reading; a low cylinder without both readings is left out.
    """
    oil_ml = oil_ml or {}
    both = sorted(set(dry_kpa) & set(wet_kpa))
    lifts = {
        c: (wet_kpa[c] + _ATMOSPHERE_KPA) / (dry_kpa[c] + _ATMOSPHERE_KPA)
        for c in both
        if c not in low
    }
    found: dict[int, WetReading] = {}
    for cylinder in (c for c in both if c in low):
        same = {c: v for c, v in lifts.items() if _same_oil(oil_ml.get(c), oil_ml.get(cylinder))}
        control = max(same, key=lambda c: same[c]) if same else None
        lift = same[control] if control is not None else None
        if lift is None and cylinder in oil_ml and swept_ml:
            lift = 1 + oil_lift(oil_ml[cylinder], swept_ml)
        found[cylinder] = _judged(dry_kpa[cylinder], wet_kpa[cylinder], lift, control)
    unchanged = {c for c, read in found.items() if read.meaning is Wet.VALVES}
    return {
        c: WetReading(Wet.GASKET_BETWEEN, read.expected_kpa, read.control)
        if c in unchanged and unchanged.intersection(neighbours.get(c, ()))
        else read
        for c, read in found.items()
    }


def _judged(dry_kpa: float, wet_kpa: float, lift: float | None, control: int | None) -> WetReading:
    dry, wet = dry_kpa + _ATMOSPHERE_KPA, wet_kpa + _ATMOSPHERE_KPA
    finite = lift is not None and lift < float("inf")
    expected = dry * lift if lift is not None and finite else None
    shown_kpa = None if expected is None else expected - _ATMOSPHERE_KPA
    if expected is not None and wet > expected * (1 + WET_RISE):
        return WetReading(Wet.RINGS, shown_kpa, control)
    # beside a control a rise no larger than its own is none; without one only no rise is none
    if control is not None or wet <= dry * (1 + WET_RISE):
        return WetReading(Wet.VALVES, shown_kpa, control)
    return WetReading(Wet.AMBIGUOUS, shown_kpa, control)


def _same_oil(one_ml: float | None, other_ml: float | None) -> bool:
    if one_ml is None or other_ml is None:
        return one_ml is other_ml
    low, high = sorted((one_ml, other_ml))
    return high <= low * _SAME_OIL
