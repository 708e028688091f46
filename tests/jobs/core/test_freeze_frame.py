import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.freeze_frame import FrameRow, frame_read


@pytest.mark.parametrize(
    ("line", "row"),
    [
        ("Engine speed 1726 rpm", ("Engine speed", "1726", "rpm")),
        ("Engine speed 1726 1/min", ("Engine speed", "1726", "1/min")),
        ("Load\t45.1\t%", ("Load", "45.1", "%")),
        ("Load;45,1;%", ("Load", "45,1", "%")),
        ("Speed,12,km/h", ("Speed", "12", "km/h")),
        ("Coolant temperature: 88 °C", ("Coolant temperature", "88", "°C")),
        ("MAP = 34 kPa", ("MAP", "34", "kPa")),
        ("Short term fuel trim bank 1 -3.1 %", ("Short term fuel trim bank 1", "-3.1", "%")),
        ("Fuel system 1: open loop", ("Fuel system 1", "open loop", "")),
        ("Speed   12,5   km/h", ("Speed", "12,5", "km/h")),
        ("nothing to take apart", ("nothing to take apart", "", "")),
    ],
)
def test_a_line_is_taken_apart(line, row):
    assert frame_read(line).rows == (FrameRow(*row),)


def test_the_code_is_found_and_its_line_is_no_value():
    frame = frame_read("Freeze frame P0301\n\nEngine speed 812 rpm\n")
    assert frame.code == "P0301"
    assert frame.rows == (FrameRow("Engine speed", "812", "rpm"),)


@given(st.text(max_size=300))
def test_no_line_is_swallowed(text):
    frame = frame_read(text)
    lines = [line for line in text.splitlines() if line.strip()]
    assert len(frame.rows) in {len(lines), len(lines) - bool(frame.code)}
    for row in frame.rows:
        assert any(row.name in line and row.value in line for line in lines)
