"""Valves, leaks, gasket leaks and combustions of packed engines at a crank angle."""

import numpy as np

from traces.core.compression import Array
from traces.simulator.orifice import flow_factor
from traces.simulator.packing import (
    MOST_CYCLES,
    TABLE_SIZE,
    PackedEngines,
    PackedGaskets,
    PackedWeights,
)

CYCLE_RAD = 4 * np.pi
LOG_BURNED_OVER_UNBURNED = float(np.log(3.2))
"""Pressure ratio of a combustion at top dead centre, for an engine that catches."""


class Openings:
    """What is open at a crank angle, for (B, C) cylinders."""

    def __init__(self, engines: PackedEngines, phase_rad: Array) -> None:
        self._e = engines
        self._intake, self._exhaust = np.empty(engines.shape), np.empty(engines.shape)
        self._heals = bool(np.any(engines.healing_m2 > 0))
        self._catches = bool(np.any(np.isfinite(engines.catches_s)))
        self._cycle = np.floor(phase_rad / CYCLE_RAD)
        # places that are only there to fill the array have no valve to let a combustion out
        self._real = engines.present > 0
        self._before = phase_rad[:, :1], 0.0

    def areas_m2(self, phase_rad: Array, time_s: float) -> tuple[Array, Array, Array]:
        """Return intake valve, exhaust valve and leak, square metres, each (B, C).

        The first two are overwritten by the next call.
        """
        e = self._e
        cycles = phase_rad * (1 / CYCLE_RAD) + 0.5
        whole = np.floor(cycles)
        at = ((cycles - whole) * TABLE_SIZE).astype(np.intp)
        at += e.valve_base
        leak_at = np.minimum(whole, MOST_CYCLES - 1).astype(np.intp)
        leak_at += e.leak_base
        e.intake_m2.take(at, out=self._intake, mode="clip")
        e.exhaust_m2.take(at, out=self._exhaust, mode="clip")
        leak = e.leak_m2.take(leak_at, mode="clip")
        if self._heals:
            leak += e.healing_m2 * np.exp(-time_s * e.healing_per_s)
        if e.weights is not None:
            after_tdc = (cycles - whole - 0.5) * CYCLE_RAD
            self._exhaust += self._held_open_m2(e.weights, after_tdc, phase_rad[:, :1], time_s)
        return self._intake, self._exhaust, leak

    def _held_open_m2(
        self, weights: PackedWeights, after_tdc: Array, phase_rad: Array, time_s: float
    ) -> Array:
        """Return what the decompression valves open, (B, C)."""
        before_rad, before_s = self._before
        self._before = phase_rad, time_s
        speed = (phase_rad - before_rad) / max(time_s - before_s, 1e-12)
        lifted = (after_tdc > -np.pi) & (after_tdc < weights.closes_rad)
        area: Array = weights.area_m2 * (lifted & (speed < weights.below_rad_s) & self._real)
        return area

    def burned(self, phase_rad: Array, time_s: float) -> Array | None:
        """Return what combustion adds to log pressure in this step, (B, C), if any engine can."""
        if not self._catches:
            return None
        cycle = np.floor(phase_rad / CYCLE_RAD)
        fires = (cycle > self._cycle) & (time_s > self._e.catches_s) & self._real
        self._cycle = cycle
        return np.where(fires, LOG_BURNED_OVER_UNBURNED, 0.0)


def through_gasket(
    gasket: PackedGaskets,
    log_state: tuple[Array, Array, Array],
    exponent: Array,
    gamma: float,
    step_s: float,
) -> tuple[Array, Array]:
    """Return what passes between neighbours in one step.

    Parameters
    ----------
    gasket
        Pairs of cells and areas, shape (leaks,).
    log_state
        Logarithms of pressure, of R T, and of mass, each (B, C).
    exponent
        Of pressure by density, (B, C) or (B, 1); `gamma` is that of the flow.
    step_s
        Time step.

    Returns
    -------
    tuple of Array
        Changes of log mass and of log K = log(p / density^exponent) by mixing, (B, C).
    """
    shape = log_state[0].shape
    p, t, log_m = (values.ravel() for values in log_state)
    m = np.exp(log_m)
    n = np.broadcast_to(exponent, shape).ravel()[gasket.first]
    drop = p[gasket.first] - p[gasket.second]
    source = np.where(drop > 0, gasket.first, gasket.second)
    sink = np.where(drop > 0, gasket.second, gasket.first)
    size = np.abs(drop)
    moved = step_s * gasket.area_m2 * flow_factor(-size, gamma)
    moved *= np.exp(p[source] - 0.5 * t[source])
    # no more than levels the two pressures
    moved = np.minimum(moved, size / n * m[source] * m[sink] / (m[source] + m[sink]))
    flow, mixing = np.zeros(p.size), np.zeros(p.size)
    # by log1p one gains what the other loses
    np.add.at(flow, source, np.log1p(-moved / m[source]))
    np.add.at(flow, sink, np.log1p(moved / m[sink]))
    np.add.at(mixing, sink, n * moved / m[sink] * (np.exp(t[source] - t[sink]) - 1))
    return flow.reshape(shape), mixing.reshape(shape)
