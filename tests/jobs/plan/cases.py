"""The vehicles of `cases.toml` as evidence."""

import tomllib
from dataclasses import dataclass
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


def all_cases() -> tuple[Case, ...]:
    text = (Path(__file__).parent / "cases.toml").read_text(encoding="utf-8")
    return tuple(Case(name, table) for name, table in tomllib.loads(text).items())
