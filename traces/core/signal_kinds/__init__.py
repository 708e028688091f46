"""The signals that may be judged, one module each, and the registry that lists them.

Whatever differs from signal to signal is asked of its `SignalKind`; nobody else names a signal by
its code.
"""

from traces.core.signal_kinds.battery_voltage import BATTERY_VOLTAGE
from traces.core.signal_kinds.channel_parts import BATTERY, CLAMP, CRANK_SENSOR, SYNC
from traces.core.signal_kinds.crank_teeth import CRANK_TEETH
from traces.core.signal_kinds.cylinder_pressure import CYLINDER_PRESSURE
from traces.core.signal_kinds.registry import (
    DEFAULT_SIGNAL,
    SIGNAL_KINDS,
    SIGNALS,
    Signal,
    kind_of,
)
from traces.core.signal_kinds.running_teeth import RUNNING_TEETH
from traces.core.signal_kinds.signal_kind import HumpWords, LowerTrust, Shown, SignalKind

__all__ = [
    "BATTERY",
    "BATTERY_VOLTAGE",
    "CLAMP",
    "CRANK_SENSOR",
    "CRANK_TEETH",
    "CYLINDER_PRESSURE",
    "DEFAULT_SIGNAL",
    "RUNNING_TEETH",
    "SIGNALS",
    "SIGNAL_KINDS",
    "SYNC",
    "HumpWords",
    "LowerTrust",
    "Shown",
    "Signal",
    "SignalKind",
    "kind_of",
]
