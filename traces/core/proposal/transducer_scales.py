"""Scales of a pressure transducer, with the peaks they make of a recording."""

from dataclasses import dataclass

from shopdiag.people.core.words import gettext as _
from traces.core.proposal.channel_roles import PressureSeen
from traces.core.setup import Fuel

IDLES_FROM_RPM = 450.0
"""No starter turns an engine as fast."""

PRESSURE_SCALES_KPA_PER_V = (250.0, 500.0, 689.5, 1000.0, 1379.0)
"""Usual transducers: 10, 20 and 40 bar, 400 and 800 psi over 4 V (common practice)."""
_USUAL_PEAK_KPA = {
    ("petrol", False): (500.0, 1800.0),
    ("petrol", True): (250.0, 1000.0),
    ("diesel", False): (1500.0, 4000.0),
    ("diesel", True): (1800.0, 5000.0),
}
"""By fuel, and whether it idles (common practice); dead volume of hose and adaptor lowers it."""
_POSSIBLE_PEAK = 1.6


@dataclass(frozen=True, slots=True)
class PressureScale:
    """A transducer's scale with the peak it makes of this recording.

    Parameters
    ----------
    peak_kpa
        None where the file does not say how many volts its values are.
    is_usual, is_possible
        Whether such a cylinder reaches that, and whether it could; None where nothing is known.
    """

    kpa_per_v: float
    peak_kpa: float | None = None
    is_usual: bool | None = None
    is_possible: bool | None = None


def pressure_scales(
    seen: PressureSeen | None, volts: float | None, fuel: Fuel
) -> tuple[PressureScale, ...]:
    """Return the usual scales of a transducer; which one it is, a person says.

    Parameters
    ----------
    volts
        One of the channel's unit; None where nobody knows.
    """
    if seen is None or volts is None:
        return tuple(PressureScale(scale) for scale in PRESSURE_SCALES_KPA_PER_V)
    least, most = _USUAL_PEAK_KPA[fuel, seen.rpm > IDLES_FROM_RPM]
    found = []
    for scale in PRESSURE_SCALES_KPA_PER_V:
        peak = seen.height * volts * scale
        possible = least / _POSSIBLE_PEAK <= peak <= most * _POSSIBLE_PEAK
        found.append(PressureScale(scale, peak, least <= peak <= most, possible))
    return tuple(found)


def pressure_words(seen: PressureSeen) -> str:
    """Return what a channel of one cylinder's pressure is proposed for."""
    said = (
        _("{count} compressions of one cylinder, idling at {rpm:.0f} rpm")
        if seen.rpm > IDLES_FROM_RPM
        else _("{count} compressions of one cylinder, cranking at {rpm:.0f} rpm")
    )
    return said.format(count=seen.towers, rpm=seen.rpm)
