"""The vehicles of `cases.toml` as evidence."""

import tomllib
from dataclasses import dataclass
from itertools import permutations
from pathlib import Path
from typing import Any

from engines.core.firing import FiringOrder
from engines.core.layouts import Family, layout_of
from engines.core.positions import Numbering, places_by_numbering
from jobs.core.patterns import Pattern
from jobs.core.plan import (
    Compression,
    Costs,
    EngineFacts,
    Evidence,
    Plan,
    Said,
    SwapDone,
    TestDone,
    plan_for,
)


@dataclass(frozen=True)
class Case:
    """One vehicle worked by hand."""

    name: str
    table: dict[str, Any]

    @property
    def is_aside(self) -> bool:
        return bool(self.table.get("aside"))

    @property
    def wanted(self) -> tuple[frozenset[str], ...]:
        """The technician's tests; equals together."""
        tests = self.table["tests"]
        return tuple(frozenset([t] if isinstance(t, str) else t) for t in tests)

    def first_of_plan(self, count: int) -> list[str]:
        """Return the plan's first tests; a capture repeated warm or cold is a capture repeated."""
        keys = (t.key for t in self.plan.tests[:count])
        return [key.removesuffix("_warm").removesuffix("_cold") for key in keys]

    @property
    def begins_alike(self) -> bool:
        """Whether the plan begins as the technician does."""
        if not self.wanted:
            return not self.plan.tests
        any_of = frozenset().union(*self.wanted) if "any_first" in self.table else self.wanted[0]
        return bool(any_of & set(self.first_of_plan(1)))

    @property
    def agrees(self) -> bool:
        """Whether the first tests are the technician's, the first one first."""
        found = self.first_of_plan(len(self.wanted))
        return self.begins_alike and any(
            len(found) == len(order) and all(f in w for f, w in zip(found, order, strict=True))
            for order in permutations(self.wanted)
        )

    @property
    def evidence(self) -> Evidence:
        t, test = self.table, self.table["compression"]
        order, places, is_flat = _engine(t["engine"])
        codes = [c.split(":") for c in t.get("codes", ())]
        return Evidence(
            engine=EngineFacts.of(order, places, is_flat=is_flat),
            fuel=t.get("fuel", "petrol"),
            ignition=t.get("ignition", ""),
            injection=t.get("injection", ""),
            codes=tuple((c[0], c[1] if len(c) > 1 else "stored") for c in codes),
            counts=dict(enumerate(t.get("counts", ()), start=1)),
            compression=Compression(
                result=test["result"],
                weak={int(c): v for c, v in test.get("weak", {}).items()},
                high=frozenset(test.get("high", ())),
                weaker_bank=frozenset(test.get("weaker_bank", ())),
                captures=t.get("captures", 1),
                temperature=t.get("temperature", ""),
            ),
            patterns=frozenset(Pattern(p) for p in t.get("patterns", ())),
            cranks=t.get("cranks", ""),
            verified=t.get("verified", ""),
            happens=frozenset(t.get("happens", ())),
            said=Said(**{k: t[k] for k in Said.__dataclass_fields__ if k in t}),
            done=tuple(TestDone(**d) for d in t.get("done", ())),
            swaps=tuple(SwapDone(*s) for s in t.get("swaps", ())),
        )

    @property
    def costs(self) -> Costs:
        table = self.table["engine"]
        _order, places, _flat = _engine(table)
        minutes = {
            c: table.get(f"access_{p.bank.lower()}", table.get("access", 0))
            for c, p in places.items()
        }
        return Costs(access_minutes=minutes)

    @property
    def plan(self) -> Plan:
        return plan_for(self.evidence, self.costs)


def _engine(table):
    order = FiringOrder.parse(table["order"])
    layout = layout_of(table["layout"])
    numbering = Numbering(table.get("numbering", "front"))
    places = places_by_numbering(layout, len(order), numbering)
    return order, places, layout.family is Family.FLAT


def cases_of(name: str) -> tuple[Case, ...]:
    text = (Path(__file__).parent / name).read_text(encoding="utf-8")
    return tuple(Case(name, table) for name, table in tomllib.loads(text).items())
