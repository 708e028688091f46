"""One figure reads alike wherever it stands: its source is one, and it is rounded once."""

import pytest

from shopdiag.people.core.numerals import whole_percent
from shopdiag.templatetags.components import fixed
from traces.core.report import Report
from traces.core.report.starter_figures import StarterFigures
from traces.core.starter import starter_line, starter_rows


@pytest.mark.parametrize(("whole", "judged"), [(207.0, 208.1), (222.5, 223.5), (191.6, 193.0)])
def test_the_speed_is_said_as_it_stands_among_the_starters_figures(whole, judged):
    figures = StarterFigures(cranking_rpm=whole)
    report = Report(verdict="even", cranking_rpm=judged, starter=figures)
    (row,) = starter_rows(figures)
    assert row.text == starter_line(figures) == f"{report.speed_rpm} rpm"


def test_without_the_whole_crank_it_is_that_of_the_judged_part():
    assert Report(verdict="even", cranking_rpm=208.6).speed_rpm == 209
    assert Report(verdict="not judged").speed_rpm is None


def test_a_share_reads_alike_as_per_cent_and_with_two_decimals():
    for share in (step / 1000 for step in range(1500)):
        assert int(whole_percent(share)) == round(100 * float(f"{share:.2f}"))
        assert fixed(share, 2) == f"{share:.2f}"
    assert fixed(None, 2) == ""
