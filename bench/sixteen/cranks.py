"""The captures of the sixteen vehicles: given by their figures, or simulated and analysed."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from statistics import fmean
from typing import TypeAlias

from bench.sixteen.vehicles import Vehicle as Case
from bench.sixteen.vehicles import vehicles
from engines.core.firing import FiringOrder
from shopdiag.people.core.words import say
from traces.core.analysis import judge
from traces.core.report import BankDifference, BankMean, Estimate, Report
from traces.core.setup import AnalysisSetup, SyncSetup
from traces.simulator import faults
from traces.simulator.engine import EngineModel, GasketLeak
from traces.simulator.layouts import LAYOUTS
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import simulate_many

Captured: TypeAlias = tuple[AnalysisSetup, Report]
Captures: TypeAlias = Callable[[Case, bool], Captured]
"""Returns how a vehicle's capture was set up and judged; true for the one after the repair."""

FAMILIES: tuple[Family, ...] = ("a", "b", "c")
"""Each vehicle in its turn, so that no one physics makes the figures."""
_FIRST_SEED = 716_000
_RATE_HZ = 5_000.0
_REFERENCE_L = 0.5
_SUSPECT_BELOW = 0.80
_HALF_WIDTH = 0.04


def given(case: Case, is_after: bool) -> Captured:
    """Return a capture whose result is what `vehicles.toml` gives as the truth."""
    figures = case.proof["crank"] if is_after else case.crank
    setup = AnalysisSetup(
        firing_order=FiringOrder.parse(case.order),
        current_channel="clamp",
        mv_per_a=10.0,
        sync=SyncSetup("coil", 1),
        fuel="diesel" if case.fuel == "diesel" else "petrol",
    )
    return setup, _report(tuple(figures), case, is_after=is_after)


def simulated(case: Case, is_after: bool) -> Captured:
    """Return a capture that was simulated with the vehicle's fault, and judged as any other."""
    return _all_simulated()[case.key, is_after]


@cache
def _all_simulated() -> dict[tuple[str, bool], Captured]:
    wanted = [
        (case, is_after)
        for case in vehicles()
        for is_after in (False, True)
        if not is_after or "crank" in case.proof
    ]
    scenarios = [scenario_of(case, is_after=is_after) for case, is_after in wanted]
    made = zip(wanted, scenarios, simulate_many(scenarios), strict=True)
    return {
        (case.key, is_after): (setup := scenario.setup(), judge(capture.waveform, setup))
        for (case, is_after), scenario, capture in made
    }


def scenario_of(case: Case, *, is_after: bool) -> Scenario:
    """Return what is simulated for a vehicle: its fault before the repair, none after it.

    The first seed of its turn whose engine fires as the vehicle's does; none was picked by what
    came of it.
    """
    at = [one.key for one in vehicles()].index(case.key)
    layout = "D4" if case.fuel == "diesel" else case.layout
    first = _FIRST_SEED + 1000 * at + 500 * is_after
    drawn = next(
        scenario
        for seed in range(first, first + 500)
        if str(
            (
                scenario := draw(
                    seed, layout, "none", family=FAMILIES[at % len(FAMILIES)], sync="720"
                )
            ).engine.firing_order
        )
        == case.order
    )
    engine = drawn.engine if is_after else _with_fault(drawn, case)
    return replace(drawn, engine=engine, rate_hz=_RATE_HZ)


def _with_fault(drawn: Scenario, case: Case) -> EngineModel:
    """Return the engine with the vehicle's fault as `vehicles.toml` describes it."""
    engine, fault = drawn.engine, case.fault
    size = engine.linkage.swept_m3 * 1e3 / _REFERENCE_L
    cylinders = list(engine.cylinders)
    for number, leak_mm2 in fault.get("leaks_mm2", {}).items():
        at = int(number) - 1
        cylinders[at] = replace(cylinders[at], fault_leak_mm2=leak_mm2 * size, faulty=True)
    for number, lift in fault.get("intake_lift", {}).items():
        at = int(number) - 1
        cylinders[at] = replace(cylinders[at], intake_lift=lift, faulty=True)
    engine = replace(engine, cylinders=tuple(cylinders))
    if "gasket_mm2" in fault:
        one, other = fault["between"]
        engine = replace(engine, gasket=GasketLeak((one, other), fault["gasket_mm2"] * size))
    if "late_deg" in fault:
        kind = LAYOUTS[drawn.layout]
        at = [str(kind.order(n)) for n in range(len(kind.orders))].index(case.order)
        subject = faults.Subject.of(kind, at, engine.cylinders, size * _REFERENCE_L)
        bank = tuple(int(n) for n in case.weaker_bank.split("-"))
        late, _gasket = faults.late_bank(subject, bank, fault["late_deg"])
        engine = replace(engine, cylinders=late)
    return engine


def _report(figures: tuple[float, ...], case: Case, *, is_after: bool) -> Report:
    low = tuple(n for n, v in enumerate(figures, start=1) if v < _SUSPECT_BELOW)
    weaker = () if is_after else tuple(int(n) for n in case.weaker_bank.split("-") if n)
    return Report(
        verdict="uneven" if low else "even",
        estimates=tuple(
            Estimate(
                position=place,
                cylinder=cylinder,
                relative=figures[cylinder - 1],
                low=figures[cylinder - 1] - _HALF_WIDTH,
                high=figures[cylinder - 1] + _HALF_WIDTH,
                call="suspect" if cylinder in low else "sound",
            )
            for place, cylinder in enumerate(FiringOrder.parse(case.order).sequence, start=1)
        ),
        candidates=(low,),
        cylinders_known=True,
        cranking_rpm=240.0,
        cycles=9,
        sync_note=say("9 ignition events of cylinder 1 on channel coil."),
        banks=_banks(figures, weaker) if weaker else (),
        bank_difference=BankDifference(12.0, 9.0, 15.0, weaker, "uneven") if weaker else None,
    )


def _banks(figures: tuple[float, ...], weaker: tuple[int, ...]) -> tuple[BankMean, ...]:
    other = tuple(n for n in range(1, len(figures) + 1) if n not in weaker)
    means = ((bank, fmean(figures[n - 1] for n in bank)) for bank in (other, weaker))
    return tuple(
        BankMean(bank, mean, mean - _HALF_WIDTH, mean + _HALF_WIDTH) for bank, mean in means
    )
