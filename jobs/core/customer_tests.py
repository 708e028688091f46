"""What tests of the diagnosis found, in the customer's plain words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from engines.core.content import content, nested
from jobs.core.measured_tests import BAD, TESTS, Value
from jobs.core.request import named
from shopdiag.people.core.words import gettext as _
from traces.core.findings import listed


@dataclass(frozen=True, slots=True)
class _TestWords:
    """A test as the customer knows it, and what was wrong where it is bad."""

    name: str
    bad: str


@dataclass(frozen=True, slots=True)
class _FaultWords:
    """What was wrong, by an answer that was chosen."""

    bad: str


_TEXTS = Path(__file__).parent / "texts"
FAULTS = nested(_TEXTS / "customer_faults.toml", _FaultWords)
WORDS = content(_TEXTS / "customer_tests.toml", _TestWords)


@dataclass(frozen=True, slots=True)
class TestTold:
    """One result to tell of.

    Parameters
    ----------
    test, outcome
        Its code, and `good` or `bad`.
    cylinder, bank
        What it is about; both None for the whole engine.
    figures
        What was measured, in words; empty where nothing was.
    values
        The same as kept: figures and chosen answers by name.
    """

    test: str
    outcome: str
    cylinder: int | None = None
    bank: int | None = None
    figures: str = ""
    values: Mapping[str, Value] = field(default_factory=dict)

    # pytest collects what is called so
    __test__ = False


def tests_for_customer(results: Sequence[TestTold]) -> tuple[str, ...]:
    """Return what was bad, a line each, and in one line what was found in order.

    A test that found one cylinder bad is not told as in order because of the others.
    """
    known = [r for r in results if r.test in WORDS]
    bad = [r for r in known if r.outcome == "bad"]
    lines = [_bad_line(r) for r in bad]
    fine = dict.fromkeys(r.test for r in known if r.outcome == "good")
    names = [_(WORDS[test].name) for test in fine if test not in {r.test for r in bad}]
    if names:
        lines.append(_("Also checked and found in order: {names}.").format(names=listed(names)))
    return tuple(lines)


def _wrong(result: TestTold) -> str:
    """Return what was wrong: by the bad answers that were chosen, else in words for all of them."""
    entry = TESTS.get(result.test)
    picked = [f.choice(result.values.get(f.name, "")) for f in entry.figures] if entry else []
    bad = [(result.test, c.key) for c in picked if c is not None and c.outcome == BAD]
    if not bad or not FAULTS.keys() >= set(bad):
        return _(WORDS[result.test].bad)
    return " ".join(dict.fromkeys(_(FAULTS[key].bad) for key in bad))


def _bad_line(result: TestTold) -> str:
    line = _wrong(result)
    where = ""
    if result.cylinder is not None:
        where = named([result.cylinder])
    elif result.bank is not None:
        where = _("bank {bank}").format(bank=result.bank)
    if where:
        line = _("{where}: {sentence}").format(where=where[:1].upper() + where[1:], sentence=line)
    if not result.figures:
        return line
    return _("{sentence} Measured: {figures}.").format(sentence=line, figures=result.figures)
