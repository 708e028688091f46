"""The vehicles of `vehicles.toml`."""

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

FILE = Path(__file__).with_name("vehicles.toml")


@dataclass(frozen=True, slots=True)
class Vehicle:
    """One vehicle.

    Parameters
    ----------
    title, words
        What it is, and the complaint in the customer's words.
    layout, order, fuel, numbering
        Its engine; numbering as `engines.core.positions.Numbering` has it.
    happens, lights, codes, counts, triage
        What intake and initial checks noted.
    crank
        Relative compression by cylinder, 1.0 as good as the others; the capture before the repair.
    fault
        What is simulated for it, beside `crank`: leaks by cylinder for half a litre, lift of the
        intake valve over the drawing's, a gasket between two, a late bank; empty for a sound one.
    mechanical, group, cylinders, reason
        What is signed first.
    tests
        What the mechanic records, in order: findings and swaps.
    then
        What is signed after the tests, where they settle more; empty where the first stands.
    cause, correction, proof
        How it ends; proof holds the drive and counts, or the capture after the repair.
    shown
        Causes of the plan of which one has to stand first at the end.
    master, master_tests
        What a master technician would have done, in order, and the first three of it as the plan
        calls them.
    coils
        How they are fitted, where somebody noted it.
    comes_back
        Whether it is a comeback of an earlier job of this vehicle.
    """

    key: str
    title: str
    words: str
    layout: str
    order: str
    fuel: str
    crank: tuple[float, ...]
    tests: tuple[dict[str, Any], ...]
    cause: str
    correction: str
    proof: dict[str, Any]
    master: tuple[str, ...]
    master_tests: tuple[str, ...]
    shown: tuple[str, ...]
    numbering: str = "front"
    happens: tuple[str, ...] = ()
    lights: tuple[str, ...] = ()
    codes: str = ""
    counts: tuple[int, ...] = ()
    cranks: str = "even"
    triage: dict[str, Any] = field(default_factory=dict)
    mechanical: str = "no"
    group: str = "unsettled"
    cylinders: tuple[int, ...] = ()
    reason: str = ""
    weaker_bank: str = ""
    then: dict[str, Any] = field(default_factory=dict)
    coils: str = ""
    fault: dict[str, Any] = field(default_factory=dict)
    comes_back: bool = False


def vehicles() -> tuple[Vehicle, ...]:
    """Return all vehicles in their order."""
    tables = tomllib.loads(FILE.read_text(encoding="utf-8"))
    return tuple(
        Vehicle(key=key, **{name: _frozen(value) for name, value in table.items()})
        for key, table in tables.items()
    )


def _frozen(value: Any) -> Any:  # noqa: ANN401 - a TOML value
    return tuple(value) if isinstance(value, list) else value
