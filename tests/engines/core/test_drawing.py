"""The plan view; no database."""

import math

import pytest

from engines.core.drawing import plan_drawing
from engines.core.firing import FiringOrder, FiringOrderError
from engines.core.geometry import EngineGeometry
from engines.core.layouts import LAYOUTS, layout_of
from engines.core.positions import Numbering, place_words, places_by_numbering, read_places
from tests.wording import says, says_only


def _engine(key: str, numbering: Numbering = Numbering.FRONT) -> EngineGeometry:
    layout = layout_of(key)
    count = layout.cylinders or 4
    return EngineGeometry(
        layout.name,
        layout,
        FiringOrder.even(range(1, count + 1)),
        places_by_numbering(layout, count, numbering),
    )


def test_cylinders_stand_where_they_sit():
    drawing = plan_drawing(_engine("V8", Numbering.ALTERNATING))
    at = {c.number: (c.x, c.y) for c in drawing.cylinders}
    # Front on the left, bank A above: odd numbers above, rising to the right.
    assert at[1][0] < at[3][0] < at[5][0] < at[7][0]
    assert at[1][1] == at[3][1] == at[5][1] == at[7][1] < at[2][1]
    assert at[1][0] == at[2][0]
    assert drawing.front.x < at[1][0] < at[7][0] < drawing.flywheel.x
    assert [label.text for label in drawing.bank_labels] == ["bank A", "bank B"]
    # fault codes call the bank of cylinder 1 bank 1 (SAE J2012)
    assert [label.text for label in drawing.code_labels] == ["(bank 1)", "(bank 2)"]
    assert [label.y < at[2][1] - 26 for label in drawing.bank_labels] == [True, False]


def test_counting_from_the_driving_end_puts_one_at_the_flywheel():
    drawing = plan_drawing(_engine("I4", Numbering.DRIVING_END))
    by_x = sorted(drawing.cylinders, key=lambda c: c.x)
    assert [c.number for c in by_x] == [4, 3, 2, 1]
    assert drawing.bank_labels == drawing.code_labels == ()


def _three_banks() -> EngineGeometry:
    order = FiringOrder.even(range(1, 7))
    places = read_places("A: 1 2\nB: 3 4\nC: 5 6", 6)
    return EngineGeometry("Three banks", layout_of("other"), order, places)


@pytest.mark.parametrize(
    "geometry", [*map(_engine, LAYOUTS), _three_banks()], ids=lambda geometry: geometry.name
)
def test_nothing_overlaps_or_leaves_the_sheet(geometry):
    drawing = plan_drawing(geometry, {1: "suspect"})
    for one in drawing.cylinders:
        assert drawing.block.x <= one.x - one.radius
        assert one.x + one.radius <= drawing.block.x + drawing.block.width
        assert drawing.block.y <= one.y - one.radius
        assert one.y + one.radius <= drawing.block.y + drawing.block.height
        for other in drawing.cylinders:
            if one is not other:
                assert math.dist((one.x, one.y), (other.x, other.y)) > 2 * one.radius
        if one.mark_label:
            assert one.y + one.radius < one.mark_label.y < drawing.block.y + drawing.block.height
    assert drawing.block.y + drawing.block.height < drawing.height
    assert drawing.flywheel.x + drawing.flywheel.width < drawing.rear.x < drawing.width
    # Words beside the block must not lie on each other: text is about 14 units high.
    for label in drawing.bank_labels:
        assert abs(label.y - drawing.front.y) > 16
        assert min(abs(label.y - s.y1) for s in drawing.arrow) > 14


def test_a_marked_cylinder_has_a_hatch_and_a_word():
    drawing = plan_drawing(_engine("I6"), {5: "suspect"})
    five = next(c for c in drawing.cylinders if c.number == 5)
    assert five.mark == "suspect"
    assert five.mark_label is not None
    assert five.mark_label.text == "suspect"
    assert all(c.hatch == () and not c.mark for c in drawing.cylinders if c is not five)
    assert len(five.hatch) > 6
    for line in five.hatch:
        ends = [
            (line.x1, line.y1),
            (line.x2, line.y2),
            ((line.x1 + line.x2) / 2, (line.y1 + line.y2) / 2),
        ]
        for end in ends:
            # Inside the circle, and off the disc that carries the number.
            assert 13.9 <= math.dist(end, (five.x, five.y)) <= five.radius + 0.1
        assert line.y1 - line.y2 == pytest.approx(line.x2 - line.x1, abs=0.05)


def test_the_description_says_what_the_drawing_shows():
    drawing = plan_drawing(_engine("V6"), {4: "suspect", 2: "watch"})
    assert says_only(drawing.title, "drawing.seen-from-above", name="V6")
    rows = "bank A: 1, 2, 3; bank B: 4, 5, 6"
    assert says(drawing.description, "drawing.cylinders-from-front", rows=rows)
    for cylinder, marked in ((2, "watch"), (4, "suspect")):
        place = place_words(_engine("V6").places, cylinder)
        assert says(
            drawing.description, "drawing.cylinder", cylinder=cylinder, marked=marked, place=place
        )
    assert "opposite the flywheel" in drawing.view_from


@pytest.mark.parametrize(("layout", "names_banks"), [("V6", True), ("I4", False)])
def test_banks_are_explained_where_there_are_banks(layout, names_banks):
    assert ("bank" in plan_drawing(_engine(layout)).view_from) is names_banks


def test_a_long_word_is_cut_in_the_drawing_only():
    mark = "suspect after wet test"
    drawing = plan_drawing(_engine("I4"), {1: mark})
    one = drawing.cylinders[0]
    assert one.mark_label is not None
    assert len(one.mark_label.text) == 12
    assert one.mark == mark


def test_three_banks_make_three_rows():
    drawing = plan_drawing(_three_banks())
    assert len({c.y for c in drawing.cylinders}) == 3


def test_a_cylinder_the_engine_lacks_cannot_be_marked():
    with pytest.raises(FiringOrderError) as refused:
        plan_drawing(_engine("I4"), {7: "suspect"})
    assert says(refused.value, "drawing.engine-no-cylinder-mark", unknown=7)
