"""What the printed work order shows of findings: by cylinder, or test by test."""

from collections.abc import Sequence
from dataclasses import dataclass

from jobs.core.pressure import DIGITS, from_kpa
from jobs.core.tests_wanted import recorded_as
from jobs.core.wanted_test_texts import SWAP
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.findings import reading_words


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One line of the printed sheet's table of findings; empty cells are written by hand."""

    name: str
    dry: str = ""
    wet: str = ""
    leak: str = ""
    heard: str = ""
    running: str = ""
    words: str = ""
    is_engine: bool = False


_LEAST_ROWS = 6
_WITH_A_COLUMN = frozenset({"gauge_dry", "gauge_wet", "leak_down", "running"})


def sheet_rows(
    order: WorkOrder, findings: Sequence[CylinderFinding], unit: str
) -> tuple[SheetRow, ...]:
    """Return a line for every cylinder of the engine; six free ones where it is not known."""
    engine = {int(n) for n in order.firing_order.split("-")} if order.firing_order else set()
    measured = {f.cylinder for f in findings if f.cylinder is not None}
    rows = [
        _sheet_row(str(c), [f for f in findings if f.cylinder == c], unit)
        for c in sorted({*order.cylinders, *measured, *engine})
    ]
    whole = [f for f in findings if f.cylinder is None]
    if whole:
        said = ". ".join(
            f"{f.get_test_display()}: {(f.words or f.get_outcome_display().lower()).rstrip('.')}"
            for f in whole
        )
        rows.append(SheetRow("engine", words=f"{said}.", is_engine=True))
    free = 0 if engine else _LEAST_ROWS - len(rows)
    return (*rows, *(SheetRow("") for _ in range(free)))


def _sheet_row(name: str, findings: list[CylinderFinding], unit: str) -> SheetRow:
    tests = CylinderFinding.Test

    def pressure(test: str) -> str:
        found = [f for f in findings if f.test == test and f.pressure_kpa is not None]
        puffs = [found[-1].first_puff_kpa, found[-1].pressure_kpa] if found else []
        return " / ".join(f"{from_kpa(p, unit):.{DIGITS[unit]}f}" for p in puffs if p is not None)

    def with_oil(pressures: str) -> str:
        oils = [f.oil_ml for f in findings if f.test == tests.GAUGE_WET and f.oil_ml is not None]
        return f"{pressures}, {oils[-1]:g} ml" if pressures and oils else pressures

    leaks = [f for f in findings if f.leak_percent is not None]
    words = [
        f.words if f.test in _WITH_A_COLUMN else f"{f.get_test_display()}: {f.words}"
        for f in findings
        if f.words
    ]
    return SheetRow(
        name=name,
        dry=pressure(tests.GAUGE_DRY),
        wet=with_oil(pressure(tests.GAUGE_WET)),
        leak=f"{leaks[-1].leak_percent:g}" if leaks else "",
        heard=leaks[-1].get_heard_at_display() if leaks and leaks[-1].heard_at else "",
        running=_running_words(findings, unit),
        words="; ".join(words),
    )


def _running_words(findings: Sequence[CylinderFinding], unit: str) -> str:
    """Return running compression as "idle / snap"; a dash where one was not taken."""
    found = [f for f in findings if f.idle_kpa is not None or f.snap_kpa is not None]
    if not found:
        return ""
    return " / ".join(
        "–" if p is None else f"{from_kpa(p, unit):.{DIGITS[unit]}f}"
        for p in (found[-1].idle_kpa, found[-1].snap_kpa)
    )


def has_running(order: WorkOrder, findings: Sequence[CylinderFinding]) -> bool:
    """Return whether running compression is wanted or recorded, so that the sheet has a column."""
    running = CylinderFinding.Test.RUNNING
    return any(t["key"] == running for t in order.tests) or any(f.test == running for f in findings)


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One line of the sheet of an order beyond compression; empty cells are written by hand."""

    test: str
    cylinder: str = ""
    outcome: str = ""
    words: str = ""


def lines_by_test(
    order: WorkOrder, findings: Sequence[CylinderFinding], unit: str
) -> tuple[SheetLine, ...]:
    """Return what was found by each wanted test, a free line where nothing was, then the others.

    A swap test has a free line until one is recorded; recorded ones stand by themselves.
    """
    tests = CylinderFinding.Test
    wanted = dict.fromkeys(recorded_as(test["key"]) for test in order.tests)
    rows: list[SheetLine] = []
    for test in dict.fromkeys((*wanted, *(f.test for f in findings))):
        found = [_line_of(f, unit) for f in findings if f.test == test]
        if test == SWAP.key:
            found = [] if order.swaps.exists() else [SheetLine("Swap test")]
        elif not found and test in tests.values:
            found = [SheetLine(str(tests(test).label))]
        rows += found
    return tuple(rows)


def _line_of(finding: CylinderFinding, unit: str) -> SheetLine:
    said = [reading_words(finding, unit), finding.words]
    return SheetLine(
        test=finding.get_test_display(),
        cylinder="all" if finding.cylinder is None else str(finding.cylinder),
        outcome=finding.get_outcome_display(),
        words=": ".join(part for part in said if part),
    )
