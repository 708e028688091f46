"""Units as files write them: of time, and of what was measured."""

TIME_FACTORS = {
    "s": 1.0,
    "sec": 1.0,
    "secs": 1.0,
    "second": 1.0,
    "seconds": 1.0,
    "ms": 1e-3,
    "msec": 1e-3,
    "millisecond": 1e-3,
    "milliseconds": 1e-3,
    "us": 1e-6,
    "µs": 1e-6,
    "μs": 1e-6,
    "usec": 1e-6,
    "microsecond": 1e-6,
    "microseconds": 1e-6,
    "ns": 1e-9,
    "nsec": 1e-9,
    "nanosecond": 1e-9,
    "nanoseconds": 1e-9,
    "min": 60.0,
    "minute": 60.0,
    "minutes": 60.0,
    "h": 3600.0,
    "hour": 3600.0,
    "hours": 3600.0,
}
"""Seconds of each unit of time."""

UNITS = {
    "v": "V",
    "volt": "V",
    "volts": "V",
    "mv": "mV",
    "millivolt": "mV",
    "millivolts": "mV",
    "uv": "uV",
    "µv": "uV",
    "μv": "uV",
    "kv": "kV",
    "a": "A",
    "amp": "A",
    "amps": "A",
    "ampere": "A",
    "amperes": "A",
    "ma": "mA",
    "ka": "kA",
    "rpm": "rpm",
    "kpa": "kPa",
    "bar": "bar",
    "mbar": "mbar",
    "psi": "psi",
    "deg": "deg",
    "°": "deg",
    "hz": "Hz",
    "khz": "kHz",
    "ohm": "ohm",
    "ω": "ohm",
    "w": "W",
    "kw": "kW",
    "%": "%",
    "1": "1",
}
"""Unit as shown, by the folded word that a file may write."""

NO_UNIT = frozenset({"", "-", "--", "---", "–", "—", "n/a", "na", "n.a.", "none", "null", "?", "."})
"""What stands for no unit where a file gives units."""

_SCALES = {
    "uV": ("V", 1e-6),
    "mV": ("V", 1e-3),
    "V": ("V", 1.0),
    "kV": ("V", 1e3),
    "mA": ("A", 1e-3),
    "A": ("A", 1.0),
    "kA": ("A", 1e3),
    "Hz": ("Hz", 1.0),
    "kHz": ("Hz", 1e3),
    "W": ("W", 1.0),
    "kW": ("W", 1e3),
}

UNIT_FACTORS: dict[str, tuple[str, float]] = {
    **{word: ("s", factor) for word, factor in TIME_FACTORS.items()},
    **{word: _SCALES.get(unit, (unit, 1.0)) for word, unit in UNITS.items()},
}
"""Base unit and factor to it, by the folded word; for units that stand in the cells."""
