"""The layouts; no database."""

import pytest

from engines.core.firing import FiringOrder
from engines.core.geometry import EngineGeometry
from engines.core.layouts import LAYOUT_CHOICES, LAYOUTS, Family, LayoutError, layout_of
from engines.core.positions import Numbering, PositionError, places_by_numbering
from tests.wording import says


def test_keys_and_names_are_each_their_own():
    assert len({name for _, name in LAYOUT_CHOICES}) == len(LAYOUT_CHOICES) == len(LAYOUTS)
    assert all(layout_of(key).key == key for key, _ in LAYOUT_CHOICES)


@pytest.mark.parametrize(
    ("key", "name", "cylinders", "banks", "angle"),
    [
        ("I1", "Single cylinder", 1, ("",), None),
        ("I4", "Inline four", 4, ("",), None),
        ("F6", "Flat six", 6, ("A", "B"), 180),
        ("V2", "V twin", 2, ("A", "B"), None),
        ("V6-odd", "V6, odd-fire", 6, ("A", "B"), 90),
        ("V8", "V8", 8, ("A", "B"), 90),
        ("V12", "V12", 12, ("A", "B"), 60),
    ],
)
def test_layouts_of_the_list(key, name, cylinders, banks, angle):
    layout = layout_of(key)
    assert (layout.name, layout.cylinders, layout.banks, layout.bank_angle_deg) == (
        name,
        cylinders,
        banks,
        angle,
    )


def test_inline_engines_have_one_row_and_the_rest_two_equal_banks():
    for layout in LAYOUTS.values():
        assert len(layout.banks) == (1 if layout.family is Family.INLINE else 2)
        assert (layout.cylinders or 2) % len(layout.banks) == 0


def test_a_wrong_count_is_named():
    with pytest.raises(LayoutError, match=r"“Inline four” has 4 cylinders, but .* names 6"):
        layout_of("I4").check_cylinders(6)
    with pytest.raises(LayoutError) as refused:
        layout_of("I1").check_cylinders(2)
    assert says(refused.value, "layouts.layout-cylinder-but-firing", count=1)
    layout_of("other").check_cylinders(7)


def test_an_unknown_layout():
    with pytest.raises(LayoutError) as refused:
        layout_of("Z9")
    assert says(refused.value, "layouts.there-no-layout-choose", key="Z9")


def test_a_geometry_holds_together_or_says_why():
    four = FiringOrder.parse("1-3-4-2")
    places = places_by_numbering(layout_of("I4"), 4, Numbering.FRONT)
    geometry = EngineGeometry("Inline four", layout_of("I4"), four, places)
    assert geometry.neighbours_of(2) == (1, 3)
    assert geometry.companion_of(2) == 3
    with pytest.raises(LayoutError):
        EngineGeometry("Six?", layout_of("I6"), four, places)
    with pytest.raises(PositionError) as refused:
        EngineGeometry("Short", layout_of("I4"), four, {1: places[1]})
    assert says(refused.value, "geometry.places-not-those-cylinders")
    with pytest.raises(PositionError, match="has banks A and B"):
        EngineGeometry("Vee?", layout_of("V4"), four, places)
