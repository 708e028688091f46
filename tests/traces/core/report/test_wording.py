"""Verdicts in plain words: never more certain than the report."""

import pytest

from engines.core.firing import FiringOrder
from tests.wording import says, says_only
from traces.core.findings.lists import listed
from traces.core.report.results import Estimate, Report
from traces.core.report.wording import LIMITS, setup_words, verdict_words
from traces.core.setup.analysis_setup import AnalysisSetup, SyncSetup


def _report(candidates, low_places=(), verdict="uneven") -> Report:
    return Report(
        verdict=verdict,
        candidates=candidates,
        estimates=tuple(
            Estimate(p, None, 1.0, 0.9, 1.1, "suspect" if p in low_places else "sound")
            for p in range(1, 5)
        ),
    )


@pytest.mark.parametrize(
    ("report", "words"),
    [
        (_report((), verdict="not judged"), "Not judged"),
        (_report(((),), verdict="even"), "Even: no weak cylinder"),
        (_report(((3,),)), "Uneven: cylinder 3 is low"),
        (_report(((1, 4),)), "Uneven: cylinders 1 and 4 are low"),
        (_report(((1, 2, 3),)), "Uneven: cylinders 1, 2 and 3 are low"),
        # A sync every 360 degrees leaves the companion open.
        (_report(((1,), (4,))), "Uneven: cylinder 1 or 4 is low"),
        (_report(((1, 3), (2, 4))), "Uneven: cylinders 1 and 3 or cylinders 2 and 4 are low"),
        # Without a sync only places are known.
        (
            _report(((1,), (3,), (4,), (2,)), low_places=(2,)),
            "Uneven: place B in firing order is low",
        ),
        (
            _report(((1, 3), (3, 4), (4, 2), (2, 1)), low_places=(2, 3)),
            "Uneven: places B and C in firing order are low",
        ),
    ],
)
def test_verdicts(report: Report, words: str) -> None:
    assert verdict_words(report) == words


def test_the_limits_say_what_cannot_be_seen() -> None:
    assert says(LIMITS, "wording.relative-only-cylinders-compared")
    assert "no pressure" in str(LIMITS)


@pytest.mark.parametrize(
    ("items", "words"), [([], ""), ([1], "1"), ([1, 2], "1 and 2"), ([1, 2, 3], "1, 2 and 3")]
)
def test_lists(items, words) -> None:
    assert str(listed(items)) == words


def test_a_set_up_in_one_line() -> None:
    order = FiringOrder.parse("1-3-4-2")
    setup = AnalysisSetup(
        order, "clamp", 10, sync=SyncSetup("injector", 3, "injector", 360), invert=True
    )
    order_said, clamp, turned, sync = setup_words(setup).split("; ")
    assert says_only(order_said, "wording.firing-order", order="1-3-4-2")
    assert says_only(clamp, "wording.mv", clamp="clamp", scale=10)
    assert says_only(turned, "traces/capture:inverted-kept.code")
    assert says_only(
        sync, "wording.cylinder-every-degrees", sync="sync on injector", cylinder=3, every=360
    )
    beside = AnalysisSetup(order, "clamp", 10, voltage_channel="battery")
    _, clamp, sync = setup_words(beside).split("; ")
    assert says_only(sync, "wording.no-sync")
    alone, voltage = clamp.split(", ")
    assert says_only(alone, "wording.mv", clamp="clamp", scale=10)
    assert says_only(voltage, "wording.battery-voltage")
    _, clamp, sync, fuel = setup_words(AnalysisSetup(order, "2", 0.5, fuel="diesel")).split("; ")
    assert says_only(clamp, "wording.mv", clamp="clamp on 2", scale=0.5)
    assert says_only(fuel, "finding_hints.diesel")
