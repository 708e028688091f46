"""What of a recording is drawn."""

import numpy as np

from traces.practice.core.curve import COLUMNS, Curve, Hump, Lane, Stretch, draw, lane


def _stretch(values: np.ndarray, rate_hz: float = 1000.0) -> Stretch:
    to_s = values.size / rate_hz
    drawn = lane(values, rate_hz, 0.0, to_s, 2)
    return Stretch(0.0, to_s, drawn, drawn)


def test_extremes_are_kept_by_column():
    values = np.zeros(COLUMNS * 10)
    values[25], values[27] = 7.0, -3.0
    found = lane(values, 1000.0, 0.0, values.size / 1000, 2)
    assert (found.low[2], found.high[2]) == (-3.0, 7.0)
    assert set(found.high[3:]) == {0.0}


def test_a_slow_recording_holds_its_samples_and_ends_where_it_ends():
    found = lane(np.array([1.0, 2.0]), 10.0, 0.0, 0.4, 1)
    at = (0, COLUMNS // 2 - 1, COLUMNS - 1)
    assert [found.high[column] for column in at] == [1.0, 2.0, None]


def test_the_drawing_lies_inside_and_names_humps():
    stretch = _stretch(np.sin(np.linspace(0, 30, 5000)) * 100 + 150)
    humps = (Hump(1.0, 0), Hump(2.0, 1), Hump(3.0, 0))
    drawn = draw(stretch, height=200, humps=humps, names=("A", "B"), shown=stretch)
    assert [h.letter for h in drawn.humps] == ["A", "B", "A"]
    assert all(drawn.left <= h.left and h.left + h.width <= drawn.right + 0.2 for h in drawn.humps)
    numbers = [float(v) for v in drawn.current.replace("M", " ").replace("L", " ").split()]
    assert all(drawn.top <= y <= drawn.base for y in numbers[1::2])
    assert list(drawn.shown or ()) == [drawn.left, drawn.right - drawn.left]
    assert len(drawn.amps) >= 2


def test_a_gap_is_not_bridged_and_nothing_at_all_is_drawn_as_nothing():
    values = np.ones(COLUMNS)
    values[100:200] = np.nan
    assert draw(_stretch(values), height=100).current.count("M") == 2
    nothing = Lane((None,) * COLUMNS, (None,) * COLUMNS)
    assert draw(Stretch(0.0, 1.0, nothing, nothing), height=100).current == ""


def test_a_curve_comes_back_from_json():
    stretch = _stretch(np.arange(1000.0))
    curve = Curve(stretch, stretch, (Hump(0.25, 1),))
    assert Curve.from_json(curve.to_json()) == curve
