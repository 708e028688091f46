"""Before and after: only intervals that do not touch are a change."""

import pytest

from jobs.core.comparison import Span, compared

LOW = Span(0.57, 0.53, 0.61, "suspect")
SOUND = Span(0.99, 0.95, 1.03, "sound")


@pytest.mark.parametrize(
    ("before", "after", "verdict"),
    [
        (LOW, SOUND, "better"),
        (SOUND, LOW, "worse"),
        (SOUND, Span(1.02, 1.0, 1.05, "sound"), "same"),
        (LOW, Span(0.66, 0.61, 0.7, "suspect"), "same"),
        (LOW, Span(0.66, 0.62, 0.7, "suspect"), "better"),
    ],
)
def test_changes(before, after, verdict):
    (row,) = compared({3: before}, {3: after})
    assert row.verdict == verdict
    assert row.change == pytest.approx(after.relative - before.relative)


def test_cylinders_that_only_one_capture_names():
    rows = compared({1: LOW}, {2: SOUND})
    assert [(r.cylinder, r.change, r.verdict) for r in rows] == [
        (1, None, "unclear"),
        (2, None, "unclear"),
    ]
