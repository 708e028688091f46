"""Load the engine library into the database; running it again changes nothing."""

from typing import Any

from django.core.management.base import BaseCommand

from engines.services import library_load


class Command(BaseCommand):
    help = "Loads the engine library; a shop's own engines are never touched."

    def handle(self, *args: Any, **options: Any) -> None:
        done = library_load()
        if options["verbosity"] > 0:
            self.stdout.write(
                f"Engine library: {done.created} added, {done.updated} updated, "
                f"{done.unchanged} unchanged, {done.retired} retired."
            )
