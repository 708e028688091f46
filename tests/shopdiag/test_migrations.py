"""Databases of before go on under the migrations that stand for several older ones."""

import re

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

pytestmark = pytest.mark.every_database

SQUASHED = {(app, "0001_squashed") for app in ("people", "engines", "traces", "jobs")}
LAST = {
    ("people", "0006_form_tokens"),
    ("engines", "0003_access_tokens"),
    ("traces", "0008_uploads"),
    ("jobs", "0021_tests_beyond_compression"),
}


@pytest.fixture
def of_before(db: None) -> MigrationRecorder:
    """The database as the older migrations left it: it knows nothing of those that followed."""
    recorder = MigrationRecorder(connection)
    for app, name in SQUASHED:
        recorder.record_unapplied(app, name)
    assert set(recorder.applied_migrations()) >= LAST
    return recorder


def test_a_database_that_has_all_older_steps_goes_on(of_before: MigrationRecorder) -> None:
    executor = MigrationExecutor(connection)
    newest = executor.loader.graph.leaf_nodes()
    assert set(executor.loader.graph.nodes) >= SQUASHED
    assert executor.migration_plan(newest) == []
    call_command("migrate", verbosity=0)
    assert set(of_before.applied_migrations()) >= SQUASHED


@pytest.mark.parametrize("lacking", sorted(LAST), ids=lambda step: step[0])
def test_a_database_that_lacks_one_is_refused(of_before: MigrationRecorder, lacking) -> None:
    of_before.record_unapplied(*lacking)
    before = set(of_before.applied_migrations())
    with pytest.raises(CommandError, match=re.escape(".".join(lacking))):
        call_command("migrate", verbosity=0)
    assert set(of_before.applied_migrations()) == before


@pytest.mark.parametrize("app", sorted(app for app, _ in SQUASHED))
def test_a_database_that_has_only_the_first_step_is_refused(of_before, app) -> None:
    """What every other step needs is missing too, so that Django cannot put models together."""
    steps = {step for step in of_before.applied_migrations() if step[0] == app}
    for step in steps - {(app, "0001_initial")}:
        of_before.record_unapplied(*step)
    with pytest.raises(CommandError, match=rf"{app}\.0002"):
        call_command("migrate", verbosity=0)
