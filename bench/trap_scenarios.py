"""Captures that tempt a method to be wrong: one trap each, drawn from a seed.

Engine, starter and clamp are drawn as for the other benches. Family c is drawn without its
flywheel on a spring and its pump, but in the traps that are about them, so that a wrong verdict
is the trap's own. Every engine has a sync every 720 degrees at an angle as the maker meant it,
but in the traps about the sync.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np

from engines.core.firing import FiringOrder
from traces.simulator import faults
from traces.simulator.engine import PumpLobes, TwoMass
from traces.simulator.faults import late_bank
from traces.simulator.layouts import LAYOUTS
from traces.simulator.recorder import PickUp
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw
from traces.simulator.scenarios_c import cam_edges, petrol_injector, with_angle, wound_starter

FAMILIES: tuple[Family, ...] = ("a", "b", "c")

_MOST_HZ = 10_000.0
_FAULTS = ("one", "two", "one", "none", "adjacent", "dead")
_PETROL = tuple(name for name, layout in LAYOUTS.items() if layout.fuel == "petrol")
_EVEN = tuple(name for name in _PETROL if LAYOUTS[name].angles_deg is None)
BANKED = ("V6", "V8", "V10", "V12", "F4", "F6")
"""Engines with banks that fire evenly."""
UNEVEN_BANKED = ("V6-odd", "V6-semi", "V10-uneven")
"""And unevenly, where the spacing alternates as the banks do."""
_FIREABLE_IN_PAIRS = ("I4", "I6", "F4", "F6", "V6", "V8", "V12")
_ORDERS: Mapping[int, str] = {
    3: "1-3-2",
    4: "1-3-4-2",
    5: "1-2-4-5-3",
    6: "1-5-3-6-2-4",
    8: "1-8-4-3-6-5-7-2",
    10: "1-6-5-10-2-7-3-8-4-9",
    12: "1-7-5-11-3-9-6-12-2-8-4-10",
}
_UNEVEN: Mapping[int, tuple[tuple[float, ...], ...]] = {
    6: ((0, 150, 240, 390, 480, 630), (0, 132, 240, 372, 480, 612)),
    10: ((0, 90, 144, 234, 288, 378, 432, 522, 576, 666),),
    2: ((0, 315), (0, 270), (0, 180)),
}

Maker: TypeAlias = Callable[[int, Family], Scenario]


@dataclass(frozen=True, slots=True)
class Trap:
    """A way to be led astray.

    Parameters
    ----------
    make
        Returns the capture of a seed in a family.
    speaks
        Parts of codes of the findings that are about the trap.
    kind
        `set`: the set of low cylinders counts; `bank`: the weaker bank too; `backwards`: the
        recording is turned round in time; `moved`: the sync is put on other cylinders and the
        figures compared.
    """

    make: Maker
    speaks: tuple[str, ...]
    kind: Literal["set", "bank", "backwards", "moved"] = "set"


def _rng(seed: int) -> np.random.Generator:
    return np.random.default_rng([seed, 400])


def _drawn(seed: int, family: Family, layouts: Sequence[str], fault: str | None = None) -> Scenario:
    """Return an engine with an ordinary sync, without what only family c has by chance."""
    rng = np.random.default_rng([seed, 401])
    name = layouts[int(rng.integers(len(layouts)))]
    wanted = fault or _FAULTS[int(rng.integers(len(_FAULTS)))]
    try:
        scenario = draw(seed, name, wanted, family=family, sync="720")
    except ValueError:
        # too few cylinders for that
        scenario = draw(seed, name, "one", family=family, sync="720")
    engine = replace(scenario.engine, two_mass=None, pump=None)
    sync = scenario.sync or PickUp()
    diesel = engine.fuel == "diesel"
    sync = replace(
        sync,
        event="injector" if diesel else "ignition",
        angle_deg=float(rng.uniform(-12, 2) if diesel else rng.uniform(-12, -2)),
        entered_angle_deg=None,
        pairs_first=0,
        more_edges_deg=(),
    )
    return replace(scenario, engine=engine, sync=sync, rate_hz=min(scenario.rate_hz, _MOST_HZ))


def _sync(scenario: Scenario) -> PickUp:
    if scenario.sync is None:
        raise ValueError("a trap about the sync needs one")
    return scenario.sync


def _with_sync(
    change: Callable[[PickUp, np.random.Generator], PickUp], layouts: Sequence[str] = _PETROL
) -> Maker:
    def make(seed: int, family: Family) -> Scenario:
        scenario = _drawn(seed, family, layouts)
        return replace(scenario, sync=change(_sync(scenario), _rng(seed)))

    return make


def _typed(change: Callable[[PickUp, np.random.Generator], PickUp]) -> Maker:
    return _with_sync(lambda sync, rng: with_angle(change(sync, rng), rng))


def _found_360(sync: PickUp, _rng: np.random.Generator) -> PickUp:
    return replace(sync, every_deg=360, entered_every_deg=720)


def _pairs(sync: PickUp, rng: np.random.Generator) -> PickUp:
    return replace(sync, pairs_first=int(rng.integers(1, 6)))


def _entered(scenario: Scenario, order: FiringOrder) -> Scenario:
    return replace(scenario, flaws=replace(scenario.flaws, entered_order=order))


def _angles_forgotten(seed: int, family: Family) -> Scenario:
    scenario = _drawn(seed, family, UNEVEN_BANKED)
    return _entered(scenario, FiringOrder.even(scenario.engine.firing_order.sequence))


def _angles_of_twins(seed: int, family: Family) -> Scenario:
    scenario = _drawn(seed, family, ("V2",))
    angles = _UNEVEN[2][int(_rng(seed).integers(3))]
    order = FiringOrder(scenario.engine.firing_order.sequence, angles)
    scenario = replace(scenario, engine=replace(scenario.engine, firing_order=order))
    return _entered(scenario, FiringOrder.even(order.sequence))


def _angles_invented(seed: int, family: Family) -> Scenario:
    scenario = _drawn(seed, family, ("V6", "V10"))
    sequence = scenario.engine.firing_order.sequence
    kinds = _UNEVEN[len(sequence)]
    angles = kinds[int(_rng(seed).integers(len(kinds)))]
    return _entered(scenario, FiringOrder(sequence, angles))


def _count_wrong(seed: int, family: Family) -> Scenario:
    scenario = _drawn(seed, family, _EVEN)
    count = len(scenario.engine.firing_order)
    others = [n for n in _ORDERS if n != count and 0.45 < n / count < 2.1]
    order = FiringOrder.parse(_ORDERS[others[int(_rng(seed).integers(len(others)))]])
    sync = replace(_sync(scenario), cylinder=1)
    return _entered(replace(scenario, sync=sync), order)


def bank_late(seed: int, family: Family, layouts: Sequence[str] = BANKED) -> Scenario:
    """Return an engine with the cam of one bank a tooth late, every third time early."""
    scenario = _drawn(seed, family, layouts, "none")
    late_deg = 18.0 if seed % 3 else -18.0
    bank = scenario.banks[seed % len(scenario.banks)]
    subject = faults.Subject(
        order=scenario.engine.firing_order,
        cylinders=scenario.engine.cylinders,
        neighbours=(),
        banks=scenario.banks,
        cylinder_l=scenario.engine.linkage.swept_m3 * 1e3,
    )
    cylinders, _ = late_bank(subject, bank, late_deg)
    return replace(
        scenario, engine=replace(scenario.engine, cylinders=cylinders), fault="bank-late"
    )


def banks_alike(
    seed: int, family: Family, layouts: Sequence[str] = BANKED, fault: str | None = None
) -> Scenario:
    """Return an engine whose banks are alike; every second one has a cylinder low by itself."""
    return _drawn(seed, family, layouts, fault or ("none", "one")[seed % 2])


def _flywheel(low_hz: float, high_hz: float) -> Maker:
    def make(seed: int, family: Family) -> Scenario:
        scenario = _drawn(seed, family, ("I3", "I4", "I5", "I6", "V6", "V8", "D4", "D6"))
        rng = _rng(seed)
        two_mass = TwoMass(
            frequency_hz=float(rng.uniform(low_hz, high_hz)),
            share=float(rng.uniform(0.25, 0.55)),
            damping=float(rng.uniform(0.03, 0.15)),
        )
        return replace(scenario, engine=replace(scenario.engine, two_mass=two_mass))

    return make


def _wound(seed: int, family: Family) -> Scenario:
    if family == "c":
        scenario = _drawn(seed, family, tuple(LAYOUTS))
        # its knee was drawn beside its mean current
        starter = wound_starter(scenario.starter, scenario.starter.knee_a, 1.0)
        return replace(scenario, starter=starter)
    for other in range(seed, seed + 200_000_000, 1_000_003):
        scenario = _drawn(other, family, tuple(LAYOUTS))
        if scenario.starter.kind == "series":
            return scenario
    raise AssertionError("a fifth of the starters of family a have a wound field")


def _diesel(seed: int, family: Family) -> Scenario:
    return _drawn(seed, family, ("D4", "D6"))


def _pump(seed: int, family: Family) -> Scenario:
    scenario, rng = _drawn(seed, family, tuple(LAYOUTS)), _rng(seed)
    count = len(scenario.engine.firing_order)
    lobes = [n for n in (2, 3, 4, 5) if count % n] or [5]
    pump = PumpLobes.of_energy(
        lobes[int(rng.integers(len(lobes)))],
        float(rng.uniform(5, 20)),
        float(rng.uniform(0, 360)),
    )
    return replace(scenario, engine=replace(scenario.engine, pump=pump))


def _dead(seed: int, family: Family) -> Scenario:
    return _drawn(seed, family, ("V2", "I3"), "dead")


def _plain(seed: int, family: Family) -> Scenario:
    return _drawn(seed, family, tuple(LAYOUTS))


def _scale(seed: int, family: Family) -> Scenario:
    scenario = _drawn(seed, family, tuple(LAYOUTS))
    factor = (10.0, 0.1)[seed % 2]
    entered = scenario.clamp.mv_per_a * factor
    return replace(scenario, flaws=replace(scenario.flaws, entered_mv_per_a=entered))


def _zero(seed: int, family: Family) -> Scenario:
    scenario, rng = _drawn(seed, family, tuple(LAYOUTS)), _rng(seed)
    offset_a = float(rng.choice([-1, 1]) * rng.uniform(100, 600))
    clamp = scenario.clamp
    volts = clamp.range_v + abs(offset_a) * clamp.mv_per_a / 1000
    clamp = replace(clamp, offset_a=offset_a, range_v=volts)
    # half of them begin in mid-crank, without a rest to tell the zero by
    before_s = scenario.before_s if seed % 2 else -0.4
    return replace(scenario, clamp=clamp, before_s=before_s)


def _six_bits(seed: int, family: Family) -> Scenario:
    scenario = _drawn(seed, family, tuple(LAYOUTS))
    return replace(scenario, clamp=replace(scenario.clamp, bits=6))


def _slow_clamp(seed: int, family: Family) -> Scenario:
    scenario = _drawn(seed, family, tuple(LAYOUTS))
    bandwidth_hz = float(_rng(seed).uniform(8, 20))
    return replace(scenario, clamp=replace(scenario.clamp, bandwidth_hz=bandwidth_hz))


def _exhaust_shut(seed: int, family: Family) -> Scenario:
    return _drawn(seed, family, _PETROL, "exhaust-shut")


_LABEL = ("sync", "which-cylinder", "angle")

TRAPS: Mapping[str, Trap] = {
    "petrol injector, angle unknown": Trap(_with_sync(petrol_injector), _LABEL),
    "petrol injector, angle typed": Trap(_typed(petrol_injector), _LABEL),
    "cam edge, angle unknown": Trap(_with_sync(cam_edges), _LABEL),
    "cam edge, angle typed": Trap(_typed(cam_edges), _LABEL),
    "set up 720, found 360": Trap(_with_sync(_found_360, _FIREABLE_IN_PAIRS), _LABEL),
    "360 turning to 720": Trap(_with_sync(_pairs, _FIREABLE_IN_PAIRS), _LABEL),
    "angles forgotten": Trap(_angles_forgotten, ("angle", "hump-mismatch")),
    "angles of a twin forgotten": Trap(_angles_of_twins, ("angle", "hump-mismatch")),
    "angles entered, engine even": Trap(_angles_invented, ("angle", "hump-mismatch")),
    "number of cylinders wrong": Trap(_count_wrong, ("hump-mismatch", "sync", "angle")),
    "bank 18 degrees late or early": Trap(bank_late, ("bank",), "bank"),
    "banks alike": Trap(banks_alike, ("bank",), "bank"),
    "two-mass flywheel, 6 to 10 Hz": Trap(_flywheel(6, 10), ("flywheel", "two-mass")),
    "two-mass flywheel, 10 to 15 Hz": Trap(_flywheel(10, 15), ("flywheel", "two-mass")),
    "two-mass flywheel, 15 to 20 Hz": Trap(_flywheel(15, 20), ("flywheel", "two-mass")),
    "wound field": Trap(_wound, ()),
    "diesel": Trap(_diesel, ()),
    "pump lobes, 5 to 20 J": Trap(_pump, ()),
    "dead cylinder of two or three": Trap(_dead, ()),
    "reversed in time": Trap(_plain, ("time", "poor-fit"), "backwards"),
    "scale ten times wrong": Trap(_scale, ("scale",)),
    "zero off by hundreds of amps": Trap(_zero, ("zero", "offset", "scale", "inverted")),
    "six bits": Trap(_six_bits, ("bits", "coarse", "resolution")),
    "sync on another cylinder": Trap(_plain, (), "moved"),
    "exhaust valve stays shut": Trap(_exhaust_shut, ("high",)),
    "clamp of 8 to 20 Hz": Trap(_slow_clamp, ("low-rate", "bandwidth")),
}
"""By name; seeds follow the place in this table, so that a new trap is added at its end."""
