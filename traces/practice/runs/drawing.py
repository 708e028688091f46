"""Drawing an exercise: a simulated capture, the truth about it, and what the analysis says."""

import json
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

import numpy as np

from traces.core.analysis import judge
from traces.core.report import Report
from traces.practice.core.curve import Curve, Hump, Stretch, lane
from traces.practice.core.levels import REMEDY_OF, Fault, Level, Sync, can_have, level_of
from traces.practice.core.marking import GREY, WEAK_BELOW, Call, Truth
from traces.practice.models import Exercise
from traces.runs.carrying import carry_out
from traces.simulator.engine import Cylinder
from traces.simulator.recorder import PickUp
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated, simulate

_RATE_HZ = 5_000.0
_MOST_DRAWS = 12
"""Captures drawn until one has no cylinder that may be called either way."""
_BEFORE_TDC_DEG = 18.0
"""The starter's load is highest some degrees before the piston is on top."""
_SIMULATED_FAULTS = {Fault.EVEN: "none"}
_NOISE_TIMES = 8.0
_MILD_TIMES = 1.6


@dataclass(frozen=True, slots=True)
class _Drawn:
    engine: str
    fault: Fault
    sync: Sync


def exercise_draw(exercise_id: int) -> bool:
    """Draw one exercise, if that waits to be drawn; return whether it was done here."""
    return carry_out(Exercise, exercise_id, _draw) is not None


def _draw(exercise: Exercise, _token: UUID) -> dict[str, Any]:
    rng = np.random.default_rng(exercise.seed)
    level = level_of(exercise.level)
    drawn = _what(level, exercise, rng)
    columns = _clear_columns(level, drawn, rng)
    json.dumps(columns, allow_nan=False)
    return columns


def _columns(
    drawn: _Drawn, made: Simulated, report: Report, rng: np.random.Generator
) -> dict[str, Any]:
    scenario = made.scenario
    order = scenario.engine.firing_order
    first = int(rng.integers(len(order)))
    cylinders = order.sequence[first:] + order.sequence[:first]
    sync = scenario.sync or PickUp()
    truth = _truth(drawn, made, cylinders)
    return {
        "shown": {
            "engine": drawn.engine,
            "order": list(order.sequence),
            "banks": [list(bank) for bank in scenario.banks],
            "sync": drawn.sync.value,
            "sync_cylinder": sync.cylinder,
            "rate_hz": scenario.rate_hz,
        },
        "curve": _curve(made, first).to_json(),
        "truth": truth.to_json(),
        "result": report.to_json(),
    }


def _what(level: Level, exercise: Exercise, rng: np.random.Generator) -> _Drawn:
    """Return engine, fault and sync: what an instructor set, the rest drawn."""
    wanted = exercise.set_case
    engines = [wanted.engine] if wanted and wanted.engine else list(level.engines)
    engine = str(rng.choice(engines))
    if wanted and wanted.fault:
        fault = Fault(wanted.fault)
    else:
        faults = [f for f in level.faults if can_have(engine, f)]
        shares = np.array([level.faults[f] for f in faults], dtype=np.float64)
        fault = faults[int(rng.choice(len(faults), p=shares / shares.sum()))]
    return _Drawn(engine, fault, level.syncs[int(rng.integers(len(level.syncs)))])


def _clear_columns(level: Level, drawn: _Drawn, rng: np.random.Generator) -> dict[str, Any]:
    """Simulate until a capture teaches what it was drawn for.

    No cylinder may be called either way, a sound recording has to be one that can be judged, and a
    spoilt one has to be spoilt enough. Which cylinders the analysis names decides nothing.
    """
    for _ in range(_MOST_DRAWS):
        made = simulate(_scenario(level, drawn, rng))
        if not _is_clear(drawn, made):
            continue
        report = judge(made.waveform, made.scenario.setup())
        if (report.verdict == "not judged") is (drawn.fault in REMEDY_OF):
            return _columns(drawn, made, report, rng)
    raise RuntimeError(f"no clear capture of {drawn} in {_MOST_DRAWS} draws")


def _is_clear(drawn: _Drawn, made: Simulated) -> bool:
    if drawn.fault in REMEDY_OF:
        return True
    relative = made.truth.relative_sound
    weak = {number for number, value in enumerate(relative, start=1) if value < WEAK_BELOW}
    faulty = {n for n, c in enumerate(made.scenario.engine.cylinders, start=1) if c.faulty}
    return weak == faulty and not any(GREY[0] < value < GREY[1] for value in relative)


def _scenario(level: Level, drawn: _Drawn, rng: np.random.Generator) -> Scenario:
    seed = int(rng.integers(2**31))
    is_flaw = drawn.fault in REMEDY_OF
    scenario = draw(
        seed,
        layout=drawn.engine,
        fault="none" if is_flaw else _SIMULATED_FAULTS.get(drawn.fault, drawn.fault.value),
        flaw=drawn.fault.value if is_flaw else None,
        sync="360" if drawn.sync is Sync.PAIR else "720",
    )
    sync = _sync(scenario.sync or PickUp(), drawn.sync, rng)
    # A clamp that is turned round, or hardly reaches, is another lesson.
    clamp = replace(scenario.clamp, inverted=False)
    if level.noisy:
        clamp = replace(clamp, noise_v=clamp.noise_v * _NOISE_TIMES)
    engine = scenario.engine
    if drawn.fault is Fault.MILD:
        engine = replace(engine, cylinders=tuple(_clearly_mild(c) for c in engine.cylinders))
    rate_hz = scenario.rate_hz if drawn.fault is Fault.LOW_RATE else _RATE_HZ
    return replace(scenario, engine=engine, sync=sync, clamp=clamp, rate_hz=rate_hz)


def _clearly_mild(cylinder: Cylinder) -> Cylinder:
    """Return a cylinder whose mild leak is not so small that it may be called either way."""
    return replace(cylinder, fault_leak_mm2=cylinder.fault_leak_mm2 * _MILD_TIMES)


def _sync(sync: PickUp, what: Sync, rng: np.random.Generator) -> PickUp:
    if what is Sync.PAIR:
        return sync
    if what is Sync.KNOWN:
        angle_deg = -float(rng.uniform(2, 12))
        return replace(sync, event="ignition", angle_deg=angle_deg, entered_angle_deg=None)
    return replace(
        sync,
        event="injector",
        angle_deg=float(rng.uniform(-360, 360)),
        entered_angle_deg=None,
    )


def _truth(drawn: _Drawn, made: Simulated, cylinders: tuple[int, ...]) -> Truth:
    relative = tuple(float(v) if np.isfinite(v) else 0.0 for v in made.truth.relative_sound)
    weak: tuple[int, ...] = ()
    call, remedy = Call.EVEN, ""
    if drawn.fault in REMEDY_OF:
        call, remedy = Call.UNCLEAR, REMEDY_OF[drawn.fault].value
    else:
        weak = tuple(n for n, value in enumerate(relative, start=1) if value < WEAK_BELOW)
        call = Call.WEAK if weak else Call.EVEN
    return Truth(call, cylinders, weak, relative, drawn.sync, drawn.fault.value, remedy)


def _curve(made: Simulated, first: int) -> Curve:
    """Return what is drawn: the whole crank, and a part with every hump named."""
    scenario, truth = made.scenario, made.truth
    order = scenario.engine.firing_order
    count = len(order)
    cycles = 2 if count <= 4 else 1
    starts_s, ends_s = truth.steady_s
    middle_rad = float(
        np.interp((starts_s + ends_s) / 2, truth.track.time_s, truth.track.angle_rad)
    )
    tdc_deg = [angle for _, angle in order]
    half_deg = 0.5 * min(order.intervals_deg)
    length_deg = cycles * 720.0 + (0.0 if cycles > 1 else 0.25 * 720.0)
    begin_deg = tdc_deg[first] + 720.0 * round(
        (np.rad2deg(middle_rad) - tdc_deg[first] - length_deg / 2) / 720.0
    )
    humps = []
    for at in range(round(length_deg / 720.0 * count)):
        place = at % count
        turns, position = divmod(first + at, count)
        angle_deg = tdc_deg[position] + 720.0 * turns + (begin_deg - tdc_deg[first])
        at_s = _time_at(made, angle_deg - _BEFORE_TDC_DEG)
        if np.isfinite(at_s):
            humps.append(Hump(at_s, place))
    from_s = _time_at(made, begin_deg - _BEFORE_TDC_DEG - half_deg)
    to_s = _time_at(made, begin_deg - _BEFORE_TDC_DEG - half_deg + length_deg)
    from_s = from_s if np.isfinite(from_s) else max(starts_s - 0.2, 0.0)
    to_s = to_s if np.isfinite(to_s) else min(ends_s, scenario.duration_s)
    whole_s = made.waveform.samples / scenario.rate_hz
    inside = tuple(h for h in humps if from_s <= h.at_s <= to_s)
    return Curve(
        whole=_stretch(made, 0.0, whole_s), part=_stretch(made, from_s, to_s), humps=inside
    )


def _time_at(made: Simulated, angle_deg: float) -> float:
    return float(made.truth.track.time_at(np.array([np.deg2rad(angle_deg)]))[0])


def _stretch(made: Simulated, from_s: float, to_s: float) -> Stretch:
    clamp, sync = (c.values.astype(np.float64) for c in made.waveform.channels[:2])
    rate_hz, mv_per_a = made.scenario.rate_hz, made.scenario.clamp.mv_per_a
    return Stretch(
        from_s=from_s,
        to_s=to_s,
        current=lane(clamp * 1000 / mv_per_a, rate_hz, from_s, to_s, 1),
        sync=lane(sync, rate_hz, from_s, to_s, 2),
    )
