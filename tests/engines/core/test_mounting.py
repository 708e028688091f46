"""How an engine sits in its vehicle; no database."""

import pytest

from engines.core.drawing import plan_drawing
from engines.core.firing import FiringOrder
from engines.core.geometry import EngineGeometry
from engines.core.layouts import layout_of
from engines.core.mounting import Direction, Mounting, MountingError, Side
from engines.core.positions import Numbering, places_by_numbering

# Worked by turning the plan (front end left, bank A above, seen from above) until its front end
# points the way it does in the vehicle, with the direction of travel upwards.
CASES = [
    (Direction.AHEAD, Side.RIGHT, "left", False),
    (Direction.AHEAD, Side.LEFT, "left", True),
    (Direction.RIGHT, Side.BULKHEAD, "down", False),
    (Direction.RIGHT, Side.RADIATOR, "down", True),
    (Direction.LEFT, Side.RADIATOR, "up", False),
    (Direction.LEFT, Side.BULKHEAD, "up", True),
]


@pytest.mark.parametrize(("direction", "side", "travel", "b_above"), CASES)
def test_the_plan_is_turned_as_the_engine_sits(direction, side, travel, b_above):
    mounting = Mounting(direction, side)
    assert mounting.travel == travel
    assert mounting.bank_b_above is b_above
    assert mounting.side_of("A") is side
    other = mounting.side_of("B")
    assert other is not None
    assert Mounting(direction, other).side_of("B") is side


def test_a_crossways_engine_has_no_left_bank():
    for direction, side in ((Direction.RIGHT, Side.LEFT), (Direction.AHEAD, Side.RADIATOR)):
        with pytest.raises(MountingError):
            Mounting(direction, side)


def test_words_name_the_face_and_the_end():
    vee = places_by_numbering(layout_of("V6"), 6, Numbering.FRONT)
    words = Mounting(Direction.RIGHT, Side.BULKHEAD).words_of(vee[5])
    assert words.startswith("radiator side; ")
    assert "right" in words
    inline = places_by_numbering(layout_of("I4"), 4, Numbering.FRONT)
    assert "left" in Mounting(Direction.LEFT).words_of(inline[1])
    assert Mounting(Direction.LEFT).side_of("A") is None


@pytest.mark.parametrize(("direction", "side", "travel", "b_above"), CASES)
def test_the_drawing_shows_the_direction_of_travel(direction, side, travel, b_above):
    layout = layout_of("V6")
    geometry = EngineGeometry(
        "V6",
        layout,
        FiringOrder.even(range(1, 7)),
        places_by_numbering(layout, 6, Numbering.FRONT),
    )
    plain = plan_drawing(geometry)
    assert plain.travel == ()
    drawing = plan_drawing(geometry, mounting=Mounting(direction, side))
    shaft, *head = drawing.travel
    moved = (shaft.x2 - shaft.x1, shaft.y2 - shaft.y1)
    assert {"left": moved[0] < 0, "up": moved[1] < 0, "down": moved[1] > 0}[travel]
    # both strokes of the head begin at the tip and lead back
    for stroke in head:
        assert (stroke.x1, stroke.y1) == (shaft.x2, shaft.y2)
        back = (stroke.x2 - stroke.x1) * moved[0] + (stroke.y2 - stroke.y1) * moved[1]
        assert back < 0
    at = {c.number: c.y for c in drawing.cylinders}
    assert (at[4] < at[1]) is b_above
    assert drawing.travel_label is not None
    assert max(drawing.travel_label.y, shaft.y1, shaft.y2) < drawing.height
    assert min(shaft.y1, shaft.y2) > drawing.block.y + drawing.block.height
