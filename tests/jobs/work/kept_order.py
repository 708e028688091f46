"""An open work order that a file's tests begin with: fixtures to import over the usual ones."""

from pathlib import Path

import pytest

from jobs.models import Visit, WorkOrder
from jobs.services.work import work_order_create
from tests.conftest import Cast, make_cast
from tests.jobs.conftest import make_four, visit_taken_in
from tests.jobs.work.conftest import listened_to, make_judgement, make_run
from tests.shared_rows import Kept, kept_rows

__all__ = ["cast", "kept", "order", "taken", "visit"]

Made = tuple[Cast, WorkOrder]


def _make() -> Made:
    cast = make_cast()
    by = cast.diagnostician
    visit = listened_to(visit_taken_in(cast.writer, engine=make_four(cast)), by)
    judgement = make_judgement(by, visit, make_run(by, visit))
    return cast, work_order_create(judgement=judgement, member=by)


kept = kept_rows(_make)


@pytest.fixture
def taken(db: None, kept: Kept[Made], media: Path) -> Made:
    return kept.taken(media)


@pytest.fixture
def cast(taken: Made) -> Cast:
    return taken[0]


@pytest.fixture
def order(taken: Made) -> WorkOrder:
    return taken[1]


@pytest.fixture
def visit(order: WorkOrder) -> Visit:
    return order.visit
