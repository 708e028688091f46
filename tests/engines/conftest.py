"""An own engine of either shop, beside the library."""

from collections.abc import Callable

import pytest

from engines.core.firing import FiringOrder
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, places_by_numbering
from engines.models import Engine
from engines.services import EngineInput, engine_create, library_load


def engine_input(
    name: str = "Yard four",
    *,
    layout: str = "I4",
    order: str = "1-3-4-2",
    angles: str | None = None,
    numbering: Numbering = Numbering.FRONT,
    source: str = "Stamped on the cover",
    coils: str = "",
) -> EngineInput:
    firing = FiringOrder.parse(order, angles)
    return EngineInput(
        name=name,
        layout=layout,
        order=firing,
        places=places_by_numbering(layout_of(layout), len(firing), numbering),
        numbering="From the front",
        fuel="petrol",
        source=source,
        coils=coils,
    )


@pytest.fixture
def given() -> Callable[..., EngineInput]:
    return engine_input


@pytest.fixture
def library(db: None) -> dict[str, Engine]:
    library_load()
    return {str(engine.key): engine for engine in Engine.objects.all()}


@pytest.fixture
def own(cast) -> Engine:
    """An engine of the cast's first shop."""
    return engine_create(member=cast.diagnostician, given=engine_input())


@pytest.fixture
def theirs(cast) -> Engine:
    """An engine of the other shop."""
    return engine_create(member=cast.outsider, given=engine_input("Mill road special"))
