"""Migrations of before that one migration now stands for: which are missing, which mean the same.

Django records the older names of such a migration and the new one; a database of the version
before has the older ones only.
"""

from collections.abc import Iterator, Set

from django.core.management.base import CommandError
from django.db import connections
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.migration import Migration
from django.db.migrations.recorder import MigrationRecorder

Step = tuple[str, str]


def refuse_half_way(using: str) -> None:
    """Stop at a database that took only some of the steps that one migration now stands for.

    Django would pass over the rest in silence, or fail in words that help nobody.

    Raises
    ------
    CommandError
        If steps are missing; it names them and says what to do.
    """
    applied = set(MigrationRecorder(connections[using]).applied_migrations())
    missing = [
        step
        for migration in _standing_for_others()
        if applied.intersection(migration.replaces)
        for step in migration.replaces
        if step not in applied
    ]
    if missing:
        steps = ", ".join(".".join(step) for step in missing)
        raise CommandError(
            f"This database is of an older version and lacks {steps}. Bring it up to date "
            "with the version of 29 November 2026 first, then with this one."
        )


def under_new_names(applied: Set[Step]) -> set[Step]:
    """Return applied migrations with all of the older ones told by what stands for them.

    Older ones of which some are missing keep their names.
    """
    found = set(applied)
    for migration in _standing_for_others():
        older = set(migration.replaces)
        if older <= found:
            found = (found - older) | {(migration.app_label, migration.name)}
    return found


def _standing_for_others() -> Iterator[Migration]:
    loader = MigrationLoader(None, load=False)
    loader.load_disk()
    return (m for m in loader.disk_migrations.values() if m.replaces)
