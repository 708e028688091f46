"""What the printed work order shows of findings: by cylinder, or test by test."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.utils.text import Truncator
from django.utils.translation import gettext, gettext_lazy

from jobs.core.pressure import DIGITS, from_kpa
from jobs.core.tests_wanted import recorded_as
from jobs.core.wanted_test_texts import SWAP
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.findings import reading_words
from jobs.selectors.typed_findings import bank_words
from shopdiag.people.core.numerals import written


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
_LINE_LENGTH = 54
"""Characters on a line of the remarks on one cylinder."""
_Test = CylinderFinding.Test
_COLUMNS = {
    _Test.GAUGE_DRY: gettext_lazy("Dry"),
    _Test.GAUGE_WET: gettext_lazy("Wet"),
    _Test.LEAK_DOWN: "Leak-down",
    _Test.RUNNING: gettext_lazy("Running"),
}
"""Tests with a column, as its heading begins."""


def sheet_rows(
    order: WorkOrder, findings: Sequence[CylinderFinding], unit: str
) -> tuple[SheetRow, ...]:
    """Return a line for every cylinder of the engine; six free ones where it is not known.

    A cell says what was read and what it amounts to, words are led by their test.
    """
    engine = {int(n) for n in order.firing_order.split("-")} if order.firing_order else set()
    measured = {f.cylinder for f in findings if f.cylinder is not None}
    cylinders = sorted({*order.cylinders, *measured, *engine})
    # so that the sheet stays one page: eight lines or more hold one of remarks each
    length = _LINE_LENGTH * max(1, min(3, 12 // max(len(cylinders), 1)))
    rows = [
        _sheet_row(str(c), [f for f in findings if f.cylinder == c], unit, length)
        for c in cylinders
    ]
    whole = [f for f in findings if f.cylinder is None]
    if whole:
        said = [
            f"{_test_words(f)}: {_with_outcome(reading_words(f, unit), f, f.words)}" for f in whole
        ]
        line = ". ".join(sentence.rstrip(".") for sentence in said)
        rows.append(SheetRow(gettext("engine"), words=f"{line}.", is_engine=True))
    free = 0 if engine else _LEAST_ROWS - len(rows)
    return (*rows, *(SheetRow("") for _ in range(free)))


def _test_words(finding: CylinderFinding) -> str:
    """Return a finding's test, with the bank it is about."""
    name = finding.get_test_display()
    return name if finding.bank is None else f"{name}, {bank_words(finding.bank).lower()}"


def _sheet_row(name: str, findings: list[CylinderFinding], unit: str, length: int) -> SheetRow:
    by_test = {f.test: f for f in findings}

    def cell(test: str, reading: Callable[[CylinderFinding, str], str]) -> str:
        found = by_test.get(test)
        return _with_outcome(reading(found, unit), found) if found else ""

    leak = by_test.get(_Test.LEAK_DOWN)
    remarks = [
        (f"{_COLUMNS[_Test(f.test)]}: ", f.words)
        if f.test in _COLUMNS
        else (f"{f.get_test_display()}: {_with_outcome(reading_words(f, unit), f)}", f.words)
        for f in findings
        if f.words or f.test not in _COLUMNS
    ]
    return SheetRow(
        name=name,
        dry=cell(_Test.GAUGE_DRY, _pressures),
        wet=cell(_Test.GAUGE_WET, _pressures),
        leak=cell(_Test.LEAK_DOWN, lambda f, _: _figure(f.leak_percent)),
        heard=leak.get_heard_at_display() if leak and leak.heard_at else "",
        running=cell(_Test.RUNNING, _running),
        words=_in_one_cell(remarks, length),
    )


def _in_one_cell(remarks: Sequence[tuple[str, str]], length: int) -> str:
    """Return remarks as they fit the cell: words give way, tests and outcomes stay."""
    room = length - sum(len(lead) + 2 for lead, _ in remarks)
    wordy = sum(bool(words) for _, words in remarks)
    most = length
    if sum(len(words) for _, words in remarks) > room:
        most = max(room // max(wordy, 1), 1)
    return "; ".join(
        f"{lead}{'' if not words or lead.endswith(' ') else ', '}"
        f"{Truncator(words.rstrip('.')).chars(most)}"
        for lead, words in remarks
    )


def _with_outcome(reading: str, finding: CylinderFinding, words: str = "") -> str:
    """Return a reading with its outcome, as "9.7, bad"; the outcome alone where none was read."""
    outcome = finding.get_outcome_display().lower()
    return ", ".join(part for part in (reading, outcome, words) if part)


def _figure(value: float | None) -> str:
    return "" if value is None else written(f"{value:g}")


def _pressures(finding: CylinderFinding, unit: str) -> str:
    """Return the last puff, the first before it where it was noted, and the oil of a wet test."""
    if finding.pressure_kpa is None:
        return ""
    first, last = (
        "" if p is None else f"{from_kpa(p, unit):.{DIGITS[unit]}f}"
        for p in (finding.first_puff_kpa, finding.pressure_kpa)
    )
    shown = last
    if first:
        shown = gettext("first puff %(first)s, last %(last)s") % {"first": first, "last": last}
    return (
        shown
        if finding.oil_ml is None
        else gettext("%(shown)s, %(oil_ml)s ml")
        % {"shown": shown, "oil_ml": _figure(finding.oil_ml)}
    )


def _running(finding: CylinderFinding, unit: str) -> str:
    """Return running compression as "idle / snap"; a dash where one was not taken."""
    taken = (finding.idle_kpa, finding.snap_kpa)
    if taken == (None, None):
        return ""
    return " / ".join("–" if p is None else f"{from_kpa(p, unit):.{DIGITS[unit]}f}" for p in taken)


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
            found = [] if order.swaps.exists() else [SheetLine(gettext("Swap test"))]
        elif not found and test in tests.values:
            found = [SheetLine(str(tests(test).label))]
        rows += found
    return tuple(rows)


def _line_of(finding: CylinderFinding, unit: str) -> SheetLine:
    said = [reading_words(finding, unit), finding.words]
    return SheetLine(
        test=finding.get_test_display(),
        cylinder=_where(finding),
        outcome=finding.get_outcome_display(),
        words=": ".join(part for part in said if part),
    )


def _where(finding: CylinderFinding) -> str:
    if finding.bank is not None:
        return bank_words(finding.bank).lower()
    return gettext("all") if finding.cylinder is None else str(finding.cylinder)
