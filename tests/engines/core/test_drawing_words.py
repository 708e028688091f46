"""Words of the plan view have room, also in a language with longer ones."""

from itertools import pairwise

import pytest
from django.utils import translation

from engines.core.drawing import _width, plan_drawing
from engines.core.firing import FiringOrder
from engines.core.geometry import EngineGeometry
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, places_by_numbering


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("mark", ["suspect", "sospechoso", "a word that is far too long"])
@pytest.mark.parametrize(("layout", "order"), [("I6", "1-5-3-6-2-4"), ("V6", "1-2-3-4-5-6")])
def test_every_word_has_room(language, mark, layout, order):
    kind, firing = layout_of(layout), FiringOrder.parse(order)
    places = places_by_numbering(kind, len(firing), Numbering.FRONT)
    with translation.override(language):
        drawn = plan_drawing(
            EngineGeometry("Any", kind, firing, places), dict.fromkeys(places, mark)
        )
    for word in (*drawn.bank_labels, *drawn.code_labels):
        assert word.anchor == "end"
        assert word.x - _width(word.text, word.size) >= 0
    assert drawn.rear.x + _width(drawn.rear.text, drawn.rear.size) <= drawn.width
    marks = [c.mark_label for c in drawn.cylinders if c.mark_label]
    assert len(marks) == len(places)
    for one, other in pairwise(sorted(marks, key=lambda m: (m.y, m.x))):
        halves = (_width(one.text, one.size) + _width(other.text, other.size)) / 2
        assert one.y != other.y or other.x - one.x >= halves
