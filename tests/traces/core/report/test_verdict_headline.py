"""The verdict as one sentence: its figures are the report's, its names never more certain."""

from dataclasses import replace

import pytest

from tests.wording import says, wording
from traces.core.findings.findings import Finding
from traces.core.report.bank_results import BankDifference, BankMean
from traces.core.report.results import Call, Estimate, Report
from traces.core.report.verdict_headline import verdict_sentence
from traces.core.report.wording import verdict_words

ORDER = (1, 3, 4, 2)


def _report(
    relative: dict[int, float], candidates: tuple[tuple[int, ...], ...], *, known: bool = True
) -> Report:
    def call(figure: float) -> Call:
        return "suspect" if figure < 0.8 else "sound"

    return Report(
        verdict="uneven" if any(v < 0.8 for v in relative.values()) else "even",
        cylinders_known=known,
        candidates=candidates,
        estimates=tuple(
            Estimate(
                position=place,
                cylinder=cylinder if known else None,
                relative=relative[cylinder],
                low=relative[cylinder] - 0.11,
                high=relative[cylinder] + 0.11,
                call=call(relative[cylinder]),
            )
            for place, cylinder in enumerate(ORDER, start=1)
        ),
    )


GOOD = {1: 1.0, 2: 1.01, 3: 0.99, 4: 1.0}
ONE = _report(GOOD | {4: 0.41}, ((4,),))
PAIR = _report(GOOD | {3: 0.57, 4: 0.41}, ((4, 3),))


@pytest.mark.parametrize(
    ("report", "sentence"),
    [
        (ONE, "Cylinder 4 is weak: 41 %, between 30 and 52"),
        (PAIR, "Cylinders 3 and 4 are weak: 57 % (46 to 68) and 41 % (30 to 52)"),
        (
            _report(GOOD | {4: 0.41}, ((4,), (1,)), known=False),
            "Cylinder 4 or 1 is weak: 41 %, between 30 and 52",
        ),
        (
            _report(GOOD | {4: 0.41}, ((1,), (2,), (3,), (4,)), known=False),
            "Place C in firing order is weak: 41 %, between 30 and 52",
        ),
        (
            _report(GOOD | {3: 0.57, 4: 0.41}, ((1, 3), (2, 4)), known=False),
            "Places B and C in firing order are weak: 57 % (46 to 68) and 41 % (30 to 52)",
        ),
        (
            _report(GOOD, ((),)),
            "Even: no weak cylinder. Lowest: cylinder 3, 99 %, between 88 and 110",
        ),
        (
            _report(GOOD, ((),), known=False),
            "Even: no weak cylinder. Lowest: place B in firing order, 99 %, between 88 and 110",
        ),
        (Report(verdict="not judged", candidates=(), estimates=()), "Not judged"),
    ],
)
def test_sentences(report: Report, sentence: str) -> None:
    assert verdict_sentence(report) == sentence.replace(" %", "\N{NO-BREAK SPACE}%")


def test_a_set_that_the_calls_do_not_bear_out_is_told_without_figures() -> None:
    report = replace(ONE, candidates=((3,),))
    assert verdict_sentence(report) == verdict_words(report)


def test_one_with_its_plug_out_is_not_the_lowest() -> None:
    report = _report(GOOD, ((),))
    opened = tuple(
        replace(e, call="open", relative=0.05) if e.cylinder == 1 else e for e in report.estimates
    )
    assert "Lowest: cylinder 3, 99\N{NO-BREAK SPACE}%" in verdict_sentence(
        replace(report, estimates=opened)
    )


def test_what_shows_beside_a_weak_cylinder_is_told_with_it() -> None:
    high = replace(ONE, findings=(Finding("high-hump", "warn"),))
    assert says(
        verdict_sentence(high), "verdict_headline.high", high=wording("captures.one-cylinder-more")
    )
    bank = replace(
        ONE,
        banks=(BankMean((1, 4), 1.0, 0.98, 1.02), BankMean((2, 3), 0.9, 0.88, 0.92)),
        bank_difference=BankDifference(10.0, 6.0, 14.0, (2, 3), "uneven"),
    )
    assert says(verdict_sentence(bank), "verdict_headline.weaker-whole", bank="bank B (bank 2)")


def test_doubt_about_an_even_verdict_is_in_its_sentence() -> None:
    doubted = replace(_report(GOOD, ((),)), findings=(Finding("too-uncertain", "warn"),))
    assert says(verdict_sentence(doubted), "wording.even-far-recording-can")
