"""What a person says about a pressure transducer and the cylinder it sits in."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from shopdiag.people.core.words import gettext as _
from traces.core.plain_json import PlainJson
from traces.core.setup.setup_error import SetupError

PRESSURE_UNITS: Mapping[str, float] = MappingProxyType(
    {
        "pa": 0.001,
        "hpa": 0.1,
        "mbar": 0.1,
        "kpa": 1.0,
        "psi": 6.894757,
        "bar": 100.0,
        "mpa": 1000.0,
    }
)
"""Kilopascals in units that files give pressures in, lower case; they need no scale."""


@dataclass(frozen=True, slots=True)
class PressureSetup(PlainJson):
    """A pressure transducer in place of a plug.

    Parameters
    ----------
    kpa_per_v
        Scale; None where the file itself gives a pressure.
    zero_v
        The channel's value at the pressure of the air, in the file's unit; None where not known.
    compression_ratio
        With the transducer in place; None where not known.
    air_kpa
        Absolute pressure of the air; None where not known.
    cylinder
        Where it sits.
    cylinders
        Of the engine; None where not said.

    Raises
    ------
    SetupError
        If a figure makes no sense.
    """

    kpa_per_v: float | None = None
    zero_v: float | None = None
    compression_ratio: float | None = None
    air_kpa: float | None = None
    cylinder: int | None = None
    cylinders: int | None = None

    def __post_init__(self) -> None:
        if self.kpa_per_v is not None and not 1.0 <= self.kpa_per_v <= 100_000.0:
            raise SetupError(_("The transducer's scale lies between 1 and 100000 kPa/V."))
        if self.compression_ratio is not None and not 5.0 <= self.compression_ratio <= 25.0:
            raise SetupError(_("A compression ratio lies between 5 and 25."))
        if self.air_kpa is not None and not 50.0 <= self.air_kpa <= 110.0:
            raise SetupError(_("The pressure of the air lies between 50 and 110 kPa."))
        if self.cylinder is not None and not 1 <= self.cylinder <= 16:
            raise SetupError(_("A cylinder's number lies between 1 and 16."))
