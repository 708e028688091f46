"""An engine that fires unevenly is told as it fires, wherever its layout or order stands."""

import pytest
from django.urls import reverse

from engines.core.firing import FiringOrder
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, places_by_numbering
from engines.core.spacing import spacing_words
from engines.models import Engine
from engines.services import EngineInput, engine_create, library_load
from jobs.services.judgements import judgement_sign
from jobs.services.work import work_order_create

# how a 60 degree V6 is built and how an even six fires (common practice)
NOT_THESE = ("60° between", " 120° apart", "fires 120°", "even, every")


@pytest.fixture
def uneven(db, cast):
    """Every engine of the library that fires unevenly, and a V6 whose angles a shop typed."""
    library_load()
    order = FiringOrder.parse("1-6-5-4-3-2", [0, 150, 240, 390, 480, 630])
    engine_create(
        member=cast.diagnostician,
        given=EngineInput(
            name="Six of our own",
            layout="V6",
            order=order,
            places=places_by_numbering(layout_of("V6"), 6, Numbering.FRONT),
            numbering="From the front",
            fuel="petrol",
            source="Measured",
        ),
    )
    return [engine for engine in Engine.objects.all() if not engine.order.is_even]


def test_every_page_tells_how_it_fires(uneven, cast, by, client_for, take_in):
    browser = client_for(by)
    assert {len(engine.order) for engine in uneven} >= {2, 6, 10}
    for engine in uneven:
        visit = take_in(by, engine=engine)
        judgement = judgement_sign(
            visit=visit, member=by, kind="without", mechanical="yes", cylinders=[1], reason="Ear."
        )
        order = work_order_create(judgement=judgement, member=by)
        words = f"{spacing_words(engine.order.intervals_deg)}° apart"
        for name, number in (
            ("jobs:visit", visit.pk),
            ("jobs:work-order", order.pk),
            ("jobs:work-order-print", order.pk),
        ):
            page = browser.get(reverse(name, args=[number])).content.decode()
            assert words in page, (engine, name)
            assert not [wrong for wrong in NOT_THESE if wrong in page], (engine, name)
        page = browser.get(reverse("engines:detail", args=[engine.pk])).content.decode()
        assert not [wrong for wrong in NOT_THESE if wrong in page], engine
        listed = browser.get(reverse("engines:list"), {"q": engine.name}).content.decode()
        assert words in listed, engine
