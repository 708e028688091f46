"""Every test with typed figures, and what is asked of all of them."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from jobs.core.measured_tests import cams, cranked, engine, ignition, injection, scanned
from jobs.core.measured_tests.entry import USUAL_RULES, TypedTest
from jobs.core.measured_tests.figure import Limit, Origin, Row, Values
from jobs.core.measured_tests.judging import Given, Saying

_KPA_PER_M = 0.0113
"""Air pressure falls by so much a metre near the sea (standard atmosphere), and vacuum with it."""

TESTS: Mapping[str, TypedTest] = MappingProxyType(
    {
        entry.test: entry
        for entry in (
            engine.COUNTS,
            ignition.PLUGS,
            ignition.COIL,
            injection.INJECTOR,
            injection.FUEL_PRESSURE,
            injection.TRIMS,
            engine.VACUUM,
            engine.EXHAUST,
            engine.CUT_OUT,
            engine.COOLANT,
            engine.VALVES,
            engine.WIRING,
            scanned.FRAME,
            scanned.AIR_METER,
            cams.PHASER,
            cams.CAM_TRACE,
            scanned.OXYGEN,
            cranked.STARTER,
            cranked.REPEAT,
            cranked.SYNC,
            cranked.BORESCOPE,
        )
    }
)

TEST_KEYS = tuple(TESTS)
"""Their keys, as the API names the choice."""

ALL_TYPED = tuple(figure for entry in TESTS.values() for figure in entry.typed)
"""Figures that are typed; no two tests share a name."""


def typed_test(test: str, fuel: str = "petrol") -> TypedTest | None:
    """Return the figures of a test on an engine of this fuel; None where it has none."""
    entry = TESTS.get(test)
    return entry if entry and fuel in entry.fuels else None


def applying_limits(
    entry: TypedTest, given: Mapping[tuple[str, Origin], Limit], altitude_m: float = 0.0
) -> dict[str, Limit]:
    """Return the limit that applies to each figure of a test.

    The manufacturer's for the job comes before the engine's, the shop's and what is usual.

    Parameters
    ----------
    given
        What was set, by figure and origin.
    altitude_m
        Of the shop; usual limits that hang on the air are lowered by it.
    """
    found: dict[str, Limit] = {}
    for figure in entry.limited:
        for origin in Origin:
            limit = given.get((figure.name, origin))
            if origin is Origin.USUAL and figure.limit is not None:
                limit = figure.limit
                if figure.falls_with_altitude and limit.least is not None:
                    limit = replace(limit, least=max(0.0, limit.least - _KPA_PER_M * altitude_m))
            if limit is not None:
                found[figure.name] = limit
                break
    return found


def sayings_of(
    entry: TypedTest, rows: Mapping[Row, Values], limits: Mapping[str, Limit], unit: str = "kPa"
) -> tuple[Saying, ...]:
    """Return what the rules say of a test's rows under the limits that apply."""
    measured = {row: values for row, values in rows.items() if values}
    given = Given(entry.scope, entry.figures, measured, limits, unit)
    return tuple(s for rule in (*USUAL_RULES, *entry.rules) for s in rule(given))
