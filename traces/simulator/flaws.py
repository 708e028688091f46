"""Capture flaws to draw: what goes wrong between the engine and the file."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from engines.core.firing import FiringOrder
from traces.simulator.recorder import LoadStep
from traces.simulator.scenario import Scenario

_OTHER_ORDERS = {
    2: "1-3-4-2",
    3: "1-3-4-2",
    4: "1-4-2-5-3-6",
    5: "1-3-4-2",
    6: "1-3-4-2",
    8: "1-4-2-5-3-6",
    10: "1-8-4-3-6-5-7-2",
    12: "1-8-4-3-6-5-7-2",
}
_OPEN_PLUG_MM2 = 110.0
"""A spark plug's hole."""

Maker = Callable[[Scenario, float, np.random.Generator], Scenario]


def apply(kind: str, scenario: Scenario, mean_a: float, rng: np.random.Generator) -> Scenario:
    """Return the scenario with a flaw of `kind`.

    Parameters
    ----------
    mean_a
        About what the starter draws, amperes: clipping is set by it.

    Raises
    ------
    ValueError
        If there is no such kind.
    """
    if kind not in FLAWS:
        raise ValueError(f"there is no flaw “{kind}”; take one of {', '.join(FLAWS)}")
    if kind == "none":
        return scenario
    flawed = _MAKERS[kind](scenario, mean_a, rng)
    names = (*scenario.flaws.names, kind)
    return replace(flawed, flaws=replace(flawed.flaws, names=names))


def _no_signal(scenario: Scenario, _mean_a: float, _rng: np.random.Generator) -> Scenario:
    return replace(scenario, flaws=replace(scenario.flaws, no_signal=True))


def _wrong_cable(scenario: Scenario, _mean_a: float, rng: np.random.Generator) -> Scenario:
    # a thin accessory cable, or a ground strap that carries a trace of the starter's current
    share = float(rng.choice([0.0, rng.uniform(0.005, 0.02)]))
    return replace(
        scenario,
        flaws=replace(scenario.flaws, cable_share=share, other_cable_a=float(rng.uniform(1, 8))),
    )


def _one_of_two(scenario: Scenario, _mean_a: float, rng: np.random.Generator) -> Scenario:
    return replace(
        scenario, flaws=replace(scenario.flaws, cable_share=float(rng.uniform(0.4, 0.7)))
    )


def _wrong_scale(scenario: Scenario, _mean_a: float, rng: np.random.Generator) -> Scenario:
    factor = float(rng.choice([0.1, 10.0]))
    return replace(
        scenario, flaws=replace(scenario.flaws, entered_mv_per_a=scenario.clamp.mv_per_a * factor)
    )


def _reversed(scenario: Scenario, _mean_a: float, _rng: np.random.Generator) -> Scenario:
    return replace(scenario, clamp=replace(scenario.clamp, inverted=True))


def _offset(scenario: Scenario, _mean_a: float, rng: np.random.Generator) -> Scenario:
    offset = float(rng.choice([-1, 1]) * rng.uniform(15, 60))
    return replace(scenario, clamp=replace(scenario.clamp, offset_a=offset))


def _drift(scenario: Scenario, _mean_a: float, rng: np.random.Generator) -> Scenario:
    sign = float(rng.choice([-1, 1]))
    clamp = replace(
        scenario.clamp,
        drift_a_per_s=sign * float(rng.uniform(3, 9)),
        drift_settle_a=sign * float(rng.uniform(0, 15)),
    )
    return replace(scenario, clamp=clamp)


def _clipped_clamp(scenario: Scenario, mean_a: float, rng: np.random.Generator) -> Scenario:
    clamp = replace(
        scenario.clamp,
        clip_a=mean_a * float(rng.uniform(0.55, 0.9)),
        soft_clip=bool(rng.random() < 0.5),
    )
    return replace(scenario, clamp=clamp)


def _clipped_screen(scenario: Scenario, mean_a: float, rng: np.random.Generator) -> Scenario:
    range_v = mean_a * scenario.clamp.mv_per_a / 1000 * float(rng.uniform(0.6, 0.95))
    return replace(scenario, clamp=replace(scenario.clamp, range_v=range_v))


def _load_steps(scenario: Scenario, _mean_a: float, rng: np.random.Generator) -> Scenario:
    starts = scenario.before_s + rng.uniform(0.2, 0.8, int(rng.integers(2, 4))) * scenario.crank_s
    steps = tuple(
        LoadStep(float(at), float(at + rng.uniform(0.3, 1.2)), float(rng.uniform(15, 50)))
        for at in np.sort(starts)
    )
    return replace(scenario, flaws=replace(scenario.flaws, load_steps=steps))


def _engine_catches(scenario: Scenario, _mean_a: float, rng: np.random.Generator) -> Scenario:
    catches_s = float(rng.uniform(0.7, 1.1))
    held = replace(scenario, crank_s=catches_s + float(rng.uniform(0.5, 1.0)), after_s=0.8)
    return replace(held, flaws=replace(held.flaws, catches_after_s=catches_s))


def _battery_collapse(scenario: Scenario, mean_a: float, rng: np.random.Generator) -> Scenario:
    battery = replace(
        scenario.battery,
        collapse_at_s=float(rng.uniform(0.5, 1.0)),
        collapse_ohm_per_s=float(rng.uniform(1.5, 4.0)) / mean_a,
    )
    return replace(scenario, battery=battery)


def _too_short(scenario: Scenario, _mean_a: float, rng: np.random.Generator) -> Scenario:
    return replace(scenario, crank_s=float(rng.uniform(0.45, 0.8)), after_s=0.2)


def _low_rate(scenario: Scenario, _mean_a: float, rng: np.random.Generator) -> Scenario:
    return replace(scenario, rate_hz=float(rng.choice([10, 20, 25, 40])))


def _wrong_engine(scenario: Scenario, _mean_a: float, _rng: np.random.Generator) -> Scenario:
    order = FiringOrder.parse(_OTHER_ORDERS[len(scenario.engine.firing_order)])
    return replace(scenario, flaws=replace(scenario.flaws, entered_order=order))


def _no_compression(scenario: Scenario, _mean_a: float, _rng: np.random.Generator) -> Scenario:
    cylinders = tuple(
        replace(c, leak_mm2=_OPEN_PLUG_MM2, fault_leak_mm2=0.0) for c in scenario.engine.cylinders
    )
    return replace(scenario, engine=replace(scenario.engine, cylinders=cylinders, gasket=None))


_MAKERS: Mapping[str, Maker] = MappingProxyType(
    {
        "no-signal": _no_signal,
        "wrong-cable": _wrong_cable,
        "one-of-two-cables": _one_of_two,
        "wrong-scale": _wrong_scale,
        "reversed": _reversed,
        "offset": _offset,
        "drift": _drift,
        "clipped-clamp": _clipped_clamp,
        "clipped-screen": _clipped_screen,
        "load-steps": _load_steps,
        "engine-catches": _engine_catches,
        "battery-collapse": _battery_collapse,
        "too-short": _too_short,
        "low-rate": _low_rate,
        "wrong-engine": _wrong_engine,
        "no-compression": _no_compression,
    }
)

FLAWS = ("none", *_MAKERS)
"""Kinds of capture flaw."""

NOT_TO_BE_JUDGED = frozenset(
    {
        "no-signal",
        "wrong-cable",
        "clipped-clamp",
        "clipped-screen",
        "engine-catches",
        "battery-collapse",
        "too-short",
        "low-rate",
        "wrong-engine",
        "no-compression",
    }
)
"""Flaws with which no cylinder may be called; with the others a capture can be read."""
