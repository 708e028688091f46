"""Records of starter, air meter, phasers, oxygen sensor, freeze frame, borescope and repeats."""

import pytest

from jobs.core.measured_tests import TESTS, applying_limits, proposed, sayings_of
from jobs.core.measured_tests.scanned import fill_percent, frame_words
from tests.traces.properties import PropsSI


def outcomes(test, values, row=None):
    entry = TESTS[test]
    return proposed(sayings_of(entry, {row: values}, applying_limits(entry, {}))).get(row, "")


def codes(test, values, row=None):
    entry = TESTS[test]
    return {s.code for s in sayings_of(entry, {row: values}, applying_limits(entry, {}))}


# The density of air at 25 °C by CoolProp's equation of state; a four-stroke engine takes in its
# swept volume once in two turns.
@pytest.mark.parametrize(
    ("swept_l", "speed_rpm", "outside_kpa"), [(2.0, 6000, 101.325), (3, 4000, 84)]
)
def test_an_engine_that_fills_up_draws_the_density_of_its_swept_volume(
    swept_l, speed_rpm, outside_kpa
):
    density_g_l = PropsSI("D", "T", 298.15, "P", outside_kpa * 1000.0, "Air")
    values = {
        "air_full_g_s": density_g_l * swept_l * speed_rpm / 120.0,
        "air_full_rpm": float(speed_rpm),
        "air_swept_l": swept_l,
        "air_outside_kpa": outside_kpa,
    }
    assert fill_percent(values) == pytest.approx(100.0, rel=0.002)
    assert fill_percent(values | {"air_swept_l": 0.0}) is None
    del values["air_outside_kpa"]
    assert fill_percent(values) is None


def drawn(full_g_s, charged="no"):
    """Two litres at 6000 rpm near the sea, where full would be 118 g/s."""
    figures = {"air_full_g_s": full_g_s, "air_full_rpm": 6000.0, "air_swept_l": 2.0}
    figures |= {"air_outside_kpa": 101.3}
    return figures | ({"air_charged": charged} if charged else {})


def cam(rest, target, actual, feed="right"):
    figures = {"intake_cam_rest_deg": rest, "intake_cam_target_deg": target}
    figures |= {"intake_cam_actual_deg": actual, "cam_feed": feed}
    return {name: value for name, value in figures.items() if value is not None}


def starter(rpm, battery, at_starter):
    return {"starter_rpm": rpm, "starter_battery_v": battery, "starter_v": at_starter}


ROWS = [
    ("air_meter", drawn(100.0), "good"),
    ("air_meter", drawn(60.0), "bad"),
    # what a charger pushes in, or may, is no proof that enough is read
    ("air_meter", drawn(100.0, "yes"), ""),
    ("air_meter", drawn(100.0, ""), ""),
    ("air_meter", drawn(60.0, "yes"), "bad"),
    ("phaser", cam(0.0, 30.0, 28.0), "good"),
    ("phaser", cam(0.0, 30.0, 2.0), "bad"),
    ("phaser", cam(0.0, 30.0, 24.0), "bad"),
    # one that was hardly asked to move, or nobody knows from where, shows nothing
    ("phaser", cam(0.0, 5.0, 3.0), ""),
    ("phaser", cam(None, 30.0, 29.0), ""),
    ("phaser", cam(0.0, 30.0, 28.0, "supply"), "bad"),
    ("cam_trace", {"cam_off_deg": 3.0}, "good"),
    ("cam_trace", {"cam_off_deg": -12.0}, "bad"),
    ("cam_trace", {"crank_trace": "clean"}, ""),
    ("oxygen", {"sensor_rich_v": 0.85, "sensor_lean_v": 0.1, "sensor_answer": "both"}, "good"),
    ("oxygen", {"sensor_rich_v": 0.4, "sensor_lean_v": 0.1}, "bad"),
    ("oxygen", {"sensor_answer": "both", "exhaust_joint": "leak"}, "bad"),
    # a joint that is tight is no sensor that answers, nor is one that is rich always
    ("oxygen", {"exhaust_joint": "tight"}, ""),
    ("oxygen", {"sensor_rich_v": 0.85}, ""),
    ("oxygen", {"sensor_answer": "both"}, "good"),
    ("vacuum", {"recirculation_closed": "same"}, ""),
    ("vacuum", {"recirculation_closed": "same", "smoke_at": "nowhere"}, "good"),
    ("vacuum", {"recirculation_closed": "better"}, "bad"),
    ("starter", {"starter_battery_v": 10.8}, ""),
    ("starter", {"starter_rpm": 220.0}, "good"),
    ("starter", starter(220.0, 10.8, 10.4), "good"),
    ("starter", starter(110.0, 10.8, 10.4), "bad"),
    ("starter", starter(220.0, 10.8, 9.2), "bad"),
    ("borescope", {"scope_valves": "clean", "scope_chamber": "dry"}, "good"),
    ("borescope", {"scope_valves": "deposits"}, "bad"),
    # half a look is no good cylinder
    ("borescope", {"scope_chamber": "dry"}, ""),
    ("valves", {"valve_return": "slow"}, "bad"),
    ("valves", {"valve_return": "quick"}, ""),
    ("repeat", {"repeat_shows": "even"}, "good"),
    ("repeat", {"repeat_shows": "some_cycles"}, "bad"),
    ("sync", {"sync_shows": "proved"}, "good"),
    ("sync", {"sync_shows": "other"}, "bad"),
    ("frame", {"frame_rpm": 780.0, "frame_coolant_c": 20.0}, ""),
]


@pytest.mark.parametrize(("test", "values", "outcome"), ROWS)
def test_what_a_record_proposes(test, values, outcome):
    row = {"phaser": 1, "oxygen": 1, "cam_trace": 1, "borescope": 2, "valves": 2}.get(test)
    assert outcomes(test, values, row) == outcome


@pytest.mark.parametrize(
    ("values", "code"),
    [
        (starter(110.0, 10.8, 10.4), "drags"),
        (starter(110.0, 10.8, 9.2), "cables"),
        (starter(110.0, 8.9, 8.5), "battery"),
    ],
)
def test_a_slow_starter_is_told_by_where_its_voltage_stays(values, code):
    assert {"drags", "cables", "battery"} & codes("starter", values) == {code}
    # a figure that is lacking leaves it open
    del values["starter_v"]
    assert "drags" not in codes("starter", values)


@pytest.mark.parametrize(
    ("figures", "words"),
    [
        (
            {"frame_rpm": 780.0, "frame_load_percent": 25.0, "frame_coolant_c": 20.0},
            ("idle", "cold"),
        ),
        (
            {"frame_rpm": 780.0, "frame_load_percent": 80.0, "frame_coolant_c": 90.0},
            ("load", "warm"),
        ),
        ({"frame_rpm": 2800.0, "frame_load_percent": 40.0, "frame_coolant_c": 60.0}, ()),
        ({"frame_rpm": 0.0}, ()),
    ],
)
def test_a_freeze_frame_says_at_what_it_was(figures, words):
    assert frame_words(figures) == words
