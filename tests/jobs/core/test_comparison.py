"""Before and after: a change is what both intervals together do not allow."""

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
        # half-widths 0.04 and 0.05: together 0.064
        (LOW, Span(0.63, 0.58, 0.68, "suspect"), "same"),
        (LOW, Span(0.64, 0.59, 0.69, "suspect"), "better"),
        (Span(0.03, 0.0, 0.15, "suspect"), Span(0.12, 0.07, 0.17, "suspect"), "same"),
    ],
)
def test_changes(before, after, verdict):
    (row,) = compared({3: before}, {3: after})
    assert row.verdict == verdict
    assert row.change == pytest.approx(after.relative - before.relative)


@pytest.mark.parametrize(
    ("after", "words"),
    [(0.99, "none"), (0.994, "none"), (0.98, "−1 point"), (1.0, "+1 point"), (0.57, "−42 points")],
)
def test_changes_in_words(after, words):
    (row,) = compared({3: SOUND}, {3: Span(after, after - 0.04, after + 0.04, "sound")})
    assert row.change_words == words


def test_cylinders_that_only_one_capture_names():
    rows = compared({1: LOW}, {2: SOUND})
    assert [(r.cylinder, r.change, r.verdict) for r in rows] == [
        (1, None, "unclear"),
        (2, None, "unclear"),
    ]
    assert [r.change_words for r in rows] == ["–", "–"]
