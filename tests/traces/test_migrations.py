"""What earlier versions stored is still there after the migrations."""

from collections.abc import Iterator

import pytest
from django.apps.registry import Apps
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

_BEFORE = ("traces", "0001_initial")


def _at(target: tuple[str, str]) -> Apps:
    executor = MigrationExecutor(connection)
    executor.migrate([target])
    people = executor.loader.graph.leaf_nodes("people")
    return MigrationExecutor(connection).loader.project_state([*people, target]).apps


@pytest.fixture
def before(transactional_db: None) -> Iterator[Apps]:
    """The tables as they were; afterwards all are up to date again."""
    newest = MigrationExecutor(connection).loader.graph.leaf_nodes()
    yield _at(_BEFORE)
    MigrationExecutor(connection).migrate(newest)


def test_captures_and_runs_point_at_the_reading_they_had(before: Apps) -> None:
    people = ("Shop", "User", "Member")
    shops, users, members = (before.get_model("people", name) for name in people)
    shop = shops.objects.create(name="Lathe Lane")
    user = users.objects.create(name="Ada", email="ada@example.org")
    member = members.objects.create(shop=shop, user=user, role="diagnostician")
    made = []
    for n in range(2):
        capture = before.get_model("traces", "Capture").objects.create(
            shop=shop,
            original=f"captures/{n}.csv",
            original_name=f"{n}.csv",
            size_bytes=1,
            sha256=str(n) * 64,
            uploaded_by=member,
        )
        made.append(capture.pk)
    # in the other order, so that equal keys do not hide a mix-up
    readings = {
        pk: before.get_model("traces", "Reading").objects.create(capture_id=pk).pk
        for pk in reversed(made)
    }
    setup = before.get_model("traces", "CaptureSetup").objects.create(
        capture_id=made[0], settings={}, created_by=member
    )
    run = before.get_model("traces", "Run").objects.create(capture_id=made[0], setup=setup)

    after = _at(("traces", "0004_runs_name_their_reading"))

    captures = after.get_model("traces", "Capture").objects
    assert dict(captures.values_list("pk", "current_reading_id")) == readings
    assert after.get_model("traces", "Run").objects.get(pk=run.pk).reading_id == readings[made[0]]
