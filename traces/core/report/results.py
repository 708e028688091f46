"""What an analysis says, to and from the JSON that is stored in one place."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Any, Literal, TypeAlias, cast

from shopdiag.people.core.words import NOTHING, Text, gettext, gettext_noop
from traces.core.findings import Finding, place_letter, rounded
from traces.core.plain_json import Decimals, PlainJson
from traces.core.report.bank_results import BankDifference, BankMean
from traces.core.report.cycle_uses import CycleUse, Excluded
from traces.core.report.parts import NO_PARTS, ReportParts
from traces.core.report.starter_figures import StarterFigures
from traces.core.report.stored_schema import STORED_SCHEMA, Stored, upgraded

Verdict: TypeAlias = Literal["even", "uneven", "measured", "not judged"]
"""`measured` is one cylinder alone: figures, and nothing that it is compared with."""
Call: TypeAlias = Literal["suspect", "watch", "sound", "open"]
"""`open` is the cylinder whose plug was out on purpose: no fault, and no good cylinder either."""
CALL_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "suspect": gettext_noop("suspect"),
        "watch": gettext_noop("watch"),
        "sound": gettext_noop("good"),
        "open": gettext_noop("open"),
        "high": gettext_noop("high"),
    }
)
"""What people read for a call."""

RUNNING = "running"
"""Method of reports on idling engines."""
PRESSURE = "pressure"
"""Method of reports on one cylinder's pressure."""

HIGH = "high"
"""Told instead of `sound` where a cylinder is high; never stored."""

LOW_CALLS: frozenset[Call] = frozenset({"suspect", "open"})
"""Calls of cylinders that hardly push the crank on into the next compression."""


def call_words(call: str) -> str:
    """Return what people read for a call, in the reader's language."""
    return gettext(CALL_WORDS.get(call, call))


@dataclass(frozen=True, slots=True)
class Estimate:
    """Relative compression at one firing position.

    Parameters
    ----------
    position
        1-based place in the firing sequence, from the sync cylinder (or the first hump).
    cylinder
        Number as stamped; None where it cannot be known.
    relative
        Peak gauge compression over the mean of the cylinders judged sound; 1.00 = like them.
    low, high
        95 % interval of `relative`.
    call
        `suspect`, `watch` or `sound` by the set-up's limits; `open` where the set-up says that
        the plug was out.
    per_cycle
        The same figure for each judged engine cycle, in time order; NaN-free, may be empty.
    hump_relative
        What plain hump height says, before any correction.
    """

    position: int
    cylinder: int | None
    relative: float
    low: float
    high: float
    call: Call
    per_cycle: tuple[float, ...] = ()
    hump_relative: float | None = None

    @property
    def name(self) -> str:
        """Cylinder number, or the letter of its place where that is not known."""
        return place_letter(self.position) if self.cylinder is None else str(self.cylinder)


@dataclass(frozen=True, slots=True)
class Hump(PlainJson):
    """One compression hump in the current: when, whose, how high above its valleys.

    Where another signal was judged, both figures are in that signal's own unit, volts or
    revolutions a minute; the set-up says which.
    """

    at_s: Annotated[float, Decimals(6)]
    position: int
    cylinder: int | None
    cycle: int
    current_a: Annotated[float, Decimals(3)]
    height_a: Annotated[float, Decimals(3)]

    @property
    def name(self) -> str:
        """Cylinder number, or the letter of its place where that is not known."""
        return place_letter(self.position) if self.cylinder is None else str(self.cylinder)


@dataclass(frozen=True, slots=True)
class Report:
    """The outcome of one analysis; `verdict` is never a guess.

    Parameters
    ----------
    verdict
        `even`, `uneven`, or `not judged` (then at least one finding has severity stop).
    estimates
        One per firing position, in firing sequence; empty when nothing could be measured.
    candidates
        Sets of low cylinders that fit; `((),)` when even, `()` when not judged.
    cylinders_known
        Whether sync ties positions to cylinder numbers.
    cranking_rpm, cycles
        Mean speed of the judged span and full engine cycles in it.
    findings
        Everything noticed, stop first.
    humps, sync_events_s, judged_from_s, judged_to_s
        For the picture: humps with labels, sync event times, the span judged (file time).
    method
        Name of the method that made `relative`.
    inverted
        Whether the current's sign was turned.
    sync_note
        How sync tied humps to cylinders, in one sentence, for the work order.
    starter
        Figures of starter and battery, judged or not; None where no crank was found.
    banks, bank_difference
        Means of the banks and how the weaker differs; empty and None where the set-up names no
        banks, cylinders are not known, or nothing was judged.
    parts
        What only some analyses have.
    """

    verdict: Verdict
    estimates: tuple[Estimate, ...] = ()
    candidates: tuple[tuple[int, ...], ...] = ()
    cylinders_known: bool = False
    cranking_rpm: float | None = None
    cycles: int = 0
    findings: tuple[Finding, ...] = ()
    humps: tuple[Hump, ...] = ()
    sync_events_s: tuple[float, ...] = ()
    judged_from_s: float | None = None
    judged_to_s: float | None = None
    method: str = "humps"
    inverted: bool = False
    sync_note: Text = NOTHING
    starter: StarterFigures | None = None
    banks: tuple[BankMean, ...] = ()
    bank_difference: BankDifference | None = None
    parts: ReportParts = NO_PARTS

    @classmethod
    def refused(cls, finding: Finding, method: str) -> "Report":
        """Return the report of a capture that was refused before anything was prepared."""
        return cls(verdict="not judged", findings=(finding,), method=method)

    @property
    def is_running(self) -> bool:
        """Whether it is of an idling engine: its figures are contributions, no compression."""
        return self.method == RUNNING

    @property
    def is_pressure(self) -> bool:
        """Whether it is of one cylinder's pressure."""
        return self.method == PRESSURE

    @property
    def shows_compressions(self) -> bool:
        """Whether its figures compare the compressions of all cylinders of one crank."""
        return not (self.is_running or self.is_pressure)

    @property
    def judged_s(self) -> tuple[float, float] | None:
        """Where the judged part lies; None where none was found."""
        if self.judged_from_s is None or self.judged_to_s is None:
            return None
        return self.judged_from_s, self.judged_to_s

    @property
    def speed_rpm(self) -> int | None:
        """Cranking speed as pages and papers say it, rounded once.

        That of the whole crank, as it stands among the starter's figures; else of the judged part.
        """
        whole = self.starter.cranking_rpm if self.starter else None
        speed = self.cranking_rpm if whole is None else whole
        return None if speed is None else round(speed)

    @property
    def open_cylinder(self) -> int | None:
        """The cylinder whose plug was out on purpose, and which says nothing of itself."""
        opened = next((e for e in self.estimates if e.call == "open"), None)
        if opened is None:
            return None
        if opened.cylinder is None and self.parts.opened_plug is not None:
            # it is known even where the others' numbers are not
            return self.parts.opened_plug.cylinder
        return opened.cylinder

    @property
    def engine_cycles(self) -> tuple[CycleUse, ...]:
        """The crank's engine cycles, used or not; none in results from before they were told."""
        return self.parts.cycle_uses.cycles if self.parts.cycle_uses else ()

    @property
    def excluded(self) -> tuple[Excluded, ...]:
        """What no figure is taken from; nothing in results from before it was told."""
        return self.parts.cycle_uses.excluded if self.parts.cycle_uses else ()

    def to_json(self) -> dict[str, Any]:
        """Return the result as it is stored, in the newest form."""
        by_number = sorted(
            (e for e in self.estimates if e.cylinder is not None),
            key=lambda e: cast("int", e.cylinder),
        )
        return {
            "schema": STORED_SCHEMA,
            "verdict": self.verdict,
            "cylinders": [_estimate_json(e, "cylinder") for e in by_number]
            if self.cylinders_known
            else None,
            "positions": [_estimate_json(e, "position") for e in self.estimates],
            "candidates": [list(c) for c in self.candidates],
            **self._banks_json(),
            "cranking_rpm": rounded(self.cranking_rpm, 1),
            "cycles": self.cycles,
            "findings": [f.to_json() for f in self.findings],
            "method": self.method,
            "inverted": self.inverted,
            "sync_note": self.sync_note.to_json(),
            "starter": self.starter.to_json() if self.starter else None,
            "judged_from_s": rounded(self.judged_from_s, 6),
            "judged_to_s": rounded(self.judged_to_s, 6),
            "sync_events_s": [round(t, 6) for t in self.sync_events_s],
            "humps": [hump.to_json() for hump in self.humps],
            "detail": [
                {
                    "position": e.position,
                    "cylinder": e.cylinder,
                    "per_cycle": [round(v, 4) for v in e.per_cycle],
                    "hump_relative": rounded(e.hump_relative, 4),
                }
                for e in self.estimates
            ],
            "parts": self.parts.to_json(),
        }

    def _banks_json(self) -> dict[str, Any]:
        # a report that a later check refused says nothing of its banks either
        if self.bank_difference is None or self.verdict == "not judged":
            return {"banks": None, "bank_difference": None}
        return {
            "banks": [bank.to_json() for bank in self.banks],
            "bank_difference": self.bank_difference.to_json(),
        }

    @classmethod
    def from_json(cls, data: Stored) -> "Report":
        """Read what `to_json` wrote, now or in an earlier version.

        Raises
        ------
        ValueError
            If the schema is not one this version reads.
        """
        data = upgraded(data)
        detail = {d["position"]: d for d in data["detail"]}
        return cls(
            verdict=data["verdict"],
            estimates=tuple(
                Estimate(
                    position=p["position"],
                    cylinder=detail[p["position"]]["cylinder"],
                    relative=p["relative"],
                    low=p["low"],
                    high=p["high"],
                    call=p["call"],
                    per_cycle=tuple(detail[p["position"]]["per_cycle"]),
                    hump_relative=detail[p["position"]]["hump_relative"],
                )
                for p in data["positions"]
            ),
            candidates=tuple(tuple(c) for c in data["candidates"]),
            cylinders_known=data["cylinders"] is not None,
            cranking_rpm=data["cranking_rpm"],
            cycles=data["cycles"],
            findings=tuple(Finding.from_json(f) for f in data["findings"]),
            humps=tuple(Hump.from_json(h) for h in data["humps"]),
            sync_events_s=tuple(data["sync_events_s"]),
            judged_from_s=data["judged_from_s"],
            judged_to_s=data["judged_to_s"],
            method=data["method"],
            inverted=data["inverted"],
            sync_note=Text.from_json(data["sync_note"]),
            # results from before these figures lack them
            starter=StarterFigures.from_json(data["starter"]) if data.get("starter") else None,
            # and those from before banks were compared
            banks=tuple(BankMean.from_json(b) for b in data.get("banks") or ()),
            bank_difference=BankDifference.from_json(data["bank_difference"])
            if data.get("bank_difference")
            else None,
            parts=ReportParts.from_json(data["parts"]),
        )


def _estimate_json(estimate: Estimate, key: Literal["cylinder", "position"]) -> dict[str, Any]:
    return {
        key: getattr(estimate, key),
        "relative": round(estimate.relative, 4),
        "low": round(estimate.low, 4),
        "high": round(estimate.high, 4),
        "call": estimate.call,
    }
