from django.apps import AppConfig, apps
from django.core.management.base import CommandError
from django.db import connections
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.db.models.signals import pre_migrate


class ShopdiagConfig(AppConfig):
    name = "shopdiag"
    label = "wiring"

    def ready(self) -> None:
        # The queue must be set up before any task is sent from a web process.
        from shopdiag import celery  # noqa: F401, PLC0415

        # Once, and the signal goes out for apps with models only.
        pre_migrate.connect(refuse_half_way, sender=apps.get_app_config("people"))


def refuse_half_way(using: str, **_: object) -> None:
    """Stop at a database that took only some of the steps that one migration now stands for.

    Django would pass over the rest in silence.
    """
    applied = MigrationRecorder(connections[using]).applied_migrations()
    loader = MigrationLoader(None, load=False)
    loader.load_disk()
    for migration in loader.disk_migrations.values():
        missing = [step for step in migration.replaces if step not in applied]
        if missing and len(missing) < len(migration.replaces):
            steps = ", ".join(".".join(step) for step in missing)
            raise CommandError(
                f"This database is of an older version and lacks {steps}. Bring it up to date "
                "with the version of 29 November 2026 first, then with this one."
            )
