"""What an engine row holds, and what it refuses."""

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from engines.core.firing import FiringOrderError
from engines.models import Engine
from tests.wording import says, says_only


def test_a_row_speaks_core(own):
    assert own.cylinders == 4
    assert own.order.sequence == (1, 3, 4, 2)
    assert own.tdc_angles is None
    assert says_only(own.place_of(2).words, "positions.second-from-front")
    assert own.geometry.companion_of(1) == 4
    assert not own.is_library
    assert str(own) == "Yard four"


def test_a_cylinder_the_engine_lacks(own):
    with pytest.raises(FiringOrderError) as refused:
        own.place_of(5)
    assert says(refused.value, "firing.cylinder-not-firing-order", cylinder=5)


def test_the_count_follows_the_order_on_every_save(own):
    own.firing_order = "1-2-4-5-3"
    own.save()
    assert Engine.objects.get(pk=own.pk).cylinders == 5


@pytest.mark.parametrize(
    ("change", "field", "part"),
    [
        ({"firing_order": "1-3-4"}, "firing_order", "Cylinder 2 is missing"),
        ({"firing_order": "1-3-3-2"}, "firing_order", "stands twice"),
        ({"tdc_angles": [0, 180, 360]}, "tdc_angles", "3 angles for 4"),
        ({"tdc_angles": [0, 180, "x", 540]}, "tdc_angles", "are not angles"),
        ({"layout": "I6"}, "layout", "has 6 cylinders, but the firing order names 4"),
        ({"layout": "V4"}, "positions", "has banks A and B"),
        ({"positions": []}, "positions", "Cylinder 1 has no place yet"),
        ({"positions": [{"cylinder": 1}]}, "positions", "cannot be read"),
        ({"positions": "nonsense"}, "positions", "cannot be read"),
        ({"source": ""}, "source", "cannot be blank"),
    ],
)
def test_what_does_not_hold_together_is_refused(own, change, field, part):
    for name, value in change.items():
        setattr(own, name, value)
    with pytest.raises(ValidationError) as raised:
        own.full_clean()
    assert part in " ".join(raised.value.message_dict[field])


def test_cleaning_writes_the_order_the_plain_way_and_drops_even_angles(own):
    own.firing_order = "1, 3 4;2"
    own.tdc_angles = [0, 180, 360, 540]
    own.full_clean()
    assert (own.firing_order, own.tdc_angles) == ("1-3-4-2", None)


@pytest.mark.parametrize("with_shop", [True, False])
def test_a_row_is_either_the_librarys_or_a_shops(own, with_shop):
    shop = own.shop if with_shop else None
    key = "both" if with_shop else None
    row = Engine(
        shop=shop, key=key, name="x", layout="I4", firing_order="1-3-4-2", positions=own.positions
    )
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()


def test_another_sequence_needs_all_cylinders_and_keeps_the_angles(db):
    engine = Engine(
        name="Odd six",
        layout="V6",
        firing_order="1-6-5-4-3-2",
        cylinders=6,
        tdc_angles=[0, 150, 240, 390, 480, 630],
        source="test",
    )
    assert engine.order_typed("1-2-3-4-5-6").tdc_angles_deg == (0, 150, 240, 390, 480, 630)
    with pytest.raises(FiringOrderError) as refused:
        engine.order_typed("1-3-4-2")
    assert says(refused.value, "engines-models.engine-cylinders-firing-order", cylinders=6, count=4)


@pytest.mark.parametrize(
    ("layout", "order", "angles", "spacing"),
    [
        ("V6", "1-2-3-4-5-6", None, "120"),
        ("V6-odd", "1-6-5-4-3-2", [0, 150, 240, 390, 480, 630], "150/90"),
        ("V10", "1-6-5-10-2-7-3-8-4-9", None, "72"),
        ("V8", "1-8-4-3-6-5-7-2", None, ""),
        ("I6", "1-5-3-6-2-4", None, ""),
        ("I4", "1-3-4-2", None, ""),
    ],
)
def test_a_v6_and_a_v10_always_tell_how_far_apart_they_fire(layout, order, angles, spacing):
    engine = Engine(name="x", layout=layout, firing_order=order, tdc_angles=angles)
    assert engine.spacing == spacing
