"""The evidence picture: whole cycles, each hump named, low ones marked twice over."""

import numpy as np
import pytest

from traces.core.drawings.picture import evidence_picture, evidence_stretch
from traces.core.report.results import Estimate, Hump, Report

ORDER = (1, 3, 4, 2)


def _report(order=ORDER, cycles=5, low=(3,), known=True, spacing_s=0.12) -> Report:
    humps = tuple(
        Hump(
            at_s=0.5 + spacing_s * (len(order) * cycle + i),
            position=i + 1,
            cylinder=c if known else None,
            cycle=cycle,
            current_a=100.0 if c in low else 180.0,
            height_a=40.0,
        )
        for cycle in range(cycles)
        for i, c in enumerate(order)
    )
    estimates = tuple(
        Estimate(
            position=i + 1,
            cylinder=c if known else None,
            relative=0.5 if c in low else 1.0,
            low=0.4,
            high=1.1,
            call="suspect" if c in low else "sound",
        )
        for i, c in enumerate(order)
    )
    return Report(
        verdict="uneven" if low else "even",
        estimates=estimates,
        cylinders_known=known,
        humps=humps,
        sync_events_s=tuple(0.48 + spacing_s * len(order) * i for i in range(cycles)),
    )


def _current(report: Report) -> tuple[np.ndarray, np.ndarray]:
    """One bump a hump on a floor of 80 A."""
    times_s = np.arange(0.0, 8.0, 0.002)
    current_a = np.full(times_s.size, 80.0)
    for hump in report.humps:
        current_a += (hump.current_a - 80) * np.exp(-(((times_s - hump.at_s) / 0.025) ** 2))
    return times_s, current_a


def _picture(report: Report, **more):
    stretch = evidence_stretch(report)
    assert stretch
    return evidence_picture(report, stretch, *_current(report), **more)


@pytest.mark.parametrize(
    ("order", "humps"),
    [
        ((1, 3, 2), 9),  # three cycles of three
        ((1, 3, 4, 2), 8),  # two of four
        ((1, 5, 3, 6, 2, 4), 6),
        ((1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10), 12),
    ],
)
def test_it_shows_whole_cycles_from_the_first_position(order, humps) -> None:
    stretch = evidence_stretch(_report(order))
    assert stretch
    assert len(stretch.humps) == humps
    assert stretch.humps[0].position == 1
    assert stretch.humps[-1].position == len(order)


def test_a_single_cycle_is_enough_and_no_humps_are_not() -> None:
    assert evidence_stretch(_report(cycles=1))
    assert evidence_stretch(Report(verdict="not judged")) is None


def test_low_humps_carry_hatch_and_word_and_sound_ones_neither() -> None:
    picture = _picture(_report(low=(3,)))
    assert [h.name for h in picture.humps] == ["1", "3", "4", "2"] * 2
    for hump in picture.humps:
        if hump.name == "3":
            assert (hump.hatch, hump.word) == ("close", "suspect")
            assert hump.patch.endswith("Z")
        else:
            assert (hump.hatch, hump.word, hump.patch) == ("", "", "")
    assert "cylinder 3 suspect" in picture.words


def test_a_persons_decision_is_marked_instead_of_the_reports() -> None:
    picture = _picture(_report(low=(3,)), marked={2, 4})
    assert sorted({h.name for h in picture.humps if h.word}) == ["2", "4"]


def test_names_stand_over_the_humps_and_inside_the_frame() -> None:
    report = _report(low=(4,))
    picture = _picture(report)
    xs = [h.x for h in picture.humps]
    assert xs == sorted(xs)
    gaps = np.diff(xs)
    # Humps 0.12 s apart in a stretch of eight of them.
    assert gaps == pytest.approx((picture.frame.right - picture.frame.left) / 8, abs=1.5)
    low = next(h for h in picture.humps if h.word)
    sound = next(h for h in picture.humps if not h.word)
    assert low.name_y > sound.name_y, "a lower hump's name stands lower"
    for hump in picture.humps:
        assert picture.frame.left <= hump.x <= picture.frame.right
        assert 0 < hump.name_y < picture.frame.base


def test_without_a_sync_places_are_named_and_it_says_so() -> None:
    picture = _picture(_report(known=False, low=()))
    assert not picture.cylinders_known
    assert [h.name for h in picture.humps] == ["A", "B", "C", "D"] * 2


def test_words_stand_upright_where_humps_are_close() -> None:
    assert not _picture(_report((1, 5, 3, 6, 2, 4))).frame.words_upright
    assert _picture(_report((1, 7, 5, 11, 3, 9, 6, 12, 2, 8, 4, 10))).frame.words_upright


def test_only_sync_events_inside_are_drawn() -> None:
    picture = _picture(_report())
    assert 1 <= len(picture.sync_x) <= 3
    assert all(picture.frame.left <= x <= picture.frame.right for x in picture.sync_x)


def test_axis_figures_are_round_and_inside() -> None:
    picture = _picture(_report())
    assert [t.label for t in picture.amps] == ["100", "120", "140", "160", "180"]
    ys = [t.at for t in picture.amps]
    assert ys == sorted(ys, reverse=True)
    assert all(picture.frame.left <= t.at <= picture.frame.right for t in picture.times)


def test_a_flat_and_a_gappy_curve_are_drawn_too() -> None:
    report = _report(low=())
    stretch = evidence_stretch(report)
    assert stretch
    times_s, current_a = _current(report)
    flat = evidence_picture(report, stretch, times_s, np.full(times_s.size, 5.0))
    assert flat.curve.startswith("M")
    current_a[::3] = np.nan
    assert "nan" not in evidence_picture(report, stretch, times_s, current_a).curve


def test_no_curve_is_an_error() -> None:
    report = _report()
    stretch = evidence_stretch(report)
    assert stretch
    with pytest.raises(ValueError, match="no curve"):
        evidence_picture(report, stretch, np.array([90.0, 91.0]), np.array([1.0, 2.0]))
