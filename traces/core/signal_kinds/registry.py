"""The signals there are. A new one is a module of its own and its place in this list."""

from types import MappingProxyType
from typing import TypeAlias

from traces.core.signal_kinds.battery_voltage import BATTERY_VOLTAGE
from traces.core.signal_kinds.crank_teeth import CRANK_TEETH
from traces.core.signal_kinds.cylinder_pressure import CYLINDER_PRESSURE
from traces.core.signal_kinds.running_teeth import RUNNING_TEETH
from traces.core.signal_kinds.signal_kind import SignalKind
from traces.core.signal_kinds.starter_current import STARTER_CURRENT

SIGNAL_KINDS: tuple[SignalKind, ...] = (
    STARTER_CURRENT,
    BATTERY_VOLTAGE,
    CRANK_TEETH,
    RUNNING_TEETH,
    CYLINDER_PRESSURE,
)
"""The one that tells most first: of several in one file it is proposed."""

Signal: TypeAlias = str
"""A signal's code, one of `SIGNALS`."""

DEFAULT_SIGNAL: Signal = STARTER_CURRENT.code

_BY_CODE = MappingProxyType({kind.code: kind for kind in SIGNAL_KINDS})
SIGNALS: tuple[Signal, ...] = tuple(_BY_CODE)
"""Their codes, in the same order."""


def kind_of(signal: Signal) -> SignalKind:
    """Return what is known of a signal.

    Raises
    ------
    KeyError
        If there is no such signal.
    """
    return _BY_CODE[signal]
