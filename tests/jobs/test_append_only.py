"""The database itself refuses to change what is only ever added to."""

import pytest
from django.db import DatabaseError, connection, transaction

from jobs.models import (
    CodePaste,
    FigureLimit,
    FreezeFrame,
    MisfireCounts,
    Note,
    NumberingCheck,
    TimelineEvent,
    UsedLine,
)
from jobs.services.notes import note_add
from jobs.services.numbering import SeenOnVehicle, numbering_confirm
from jobs.services.triage import codes_add, freeze_frame_add, misfires_set
from jobs.services.used import WasUsed, used_add

pytestmark = pytest.mark.every_database


@pytest.fixture
def rows(visit, cast):
    codes_add(visit=visit, text="P0301", member=cast.diagnostician)
    note_add(visit=visit, text="heard it", member=cast.writer)
    misfires_set(visit=visit, counts={1: 2}, member=cast.diagnostician, period="ten cycles")
    freeze_frame_add(visit=visit, text="Load 31 %", member=cast.diagnostician, code="P0301")
    numbering_confirm(visit=visit, member=cast.mechanic, seen=SeenOnVehicle("casting"))
    used_add(visit=visit, member=cast.mechanic, used=WasUsed(minutes=20))
    FigureLimit.objects.create(
        shop=visit.shop, test="coil", figure="primary_ohm", most=1.0, source="x", set_by=cast.owner
    )
    return visit


@pytest.mark.parametrize(
    ("model", "field"),
    [
        (TimelineEvent, "words"),
        (CodePaste, "text"),
        (Note, "text"),
        (MisfireCounts, "period"),
        (FreezeFrame, "code"),
        (NumberingCheck, "note"),
        (UsedLine, "what"),
        (FigureLimit, "source"),
    ],
)
def test_an_update_is_refused_past_the_models_too(rows, model, field):
    before = list(model.objects.values_list(field, flat=True))
    assert before
    with pytest.raises(DatabaseError, match="added and never changed"), transaction.atomic():
        model.objects.update(**{field: "rewritten"})
    table = model._meta.db_table
    with (
        pytest.raises(DatabaseError, match="added and never changed"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(f"UPDATE {table} SET {field} = 'rewritten'")  # noqa: S608 - names from the models
    assert list(model.objects.values_list(field, flat=True)) == before
