"""Django's own, which first refuses a database that stopped between older versions.

Django reads what the database took before it sends any signal, and fails there already.
"""

from typing import Any

from django.core.management.commands import migrate

from shopdiag.older_migrations import refuse_half_way


class Command(migrate.Command):
    def handle(self, *args: Any, **options: Any) -> None:
        refuse_half_way(options["database"])
        super().handle(*args, **options)
