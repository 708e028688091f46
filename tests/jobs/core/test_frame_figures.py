"""What kept rows of a freeze frame say, whatever scan tool wrote them."""

import pytest

from jobs.core.frame_figures import frame_figures
from jobs.core.freeze_frame import frame_read


def rows(text):
    return [{"name": r.name, "value": r.value, "unit": r.unit} for r in frame_read(text).rows]


@pytest.mark.parametrize(
    ("text", "figures"),
    [
        ("Engine speed: 780 rpm", {"frame_rpm": 780.0}),
        (
            "RPM 2450 1/min\nCalculated load 71.4 %",
            {"frame_rpm": 2450.0, "frame_load_percent": 71.4},
        ),
        ("Coolant temperature: 68 °F", {"frame_coolant_c": pytest.approx(20.0)}),
        ("Temperatura del refrigerante\t92\t°C", {"frame_coolant_c": 92.0}),
        ("Vehicle speed: 50 mph", {"frame_speed_km_h": pytest.approx(80.4672)}),
        # degrees of which scale nobody says
        ("Coolant temperature: 190", {}),
        # what the engine is asked for, or a load that goes beyond full
        ("Desired engine speed: 900 rpm\nAbsolute load 140 %", {}),
        ("Intake air temperature 31 °C", {}),
        # two frames in one text
        ("Engine speed: 780 rpm\nEngine speed: 3100 rpm", {}),
        ("Calculated load 180 %", {}),
    ],
)
def test_rows_are_read_by_name_and_unit(text, figures):
    assert frame_figures(rows(text)) == figures
