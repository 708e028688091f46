"""Make an API token from the command line, as the page “Your tokens” does."""

from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from shopdiag.people.models import Member
from shopdiag.people.services import token_create


class Command(BaseCommand):
    help = "Make a token that acts as this person, and print its key; it is kept nowhere."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username", help="who the token acts as")
        parser.add_argument("--shop", default="", help="which shop, for people of several")
        parser.add_argument("--label", default="command line", help="what it is for")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            _, key = token_create(member=_member(**options), label=options["label"])
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        self.stdout.write(key)


def _member(*, username: str, shop: str, **_options: Any) -> Member:
    found = Member.objects.filter(
        user__username=username, user__is_active=True, active=True
    ).select_related("shop")
    if shop:
        found = found.filter(shop__name=shop)
    members = list(found.order_by("shop__name", "pk"))
    if not members:
        raise CommandError(
            f"Nobody signs in as “{username}”{' there' if shop else ''}; "
            "check the name on the page “Team”."
        )
    if len(members) > 1:
        names = ", ".join(f"“{member.shop.name}”" for member in members)
        raise CommandError(f"“{username}” works in {names}; say which by --shop NAME.")
    return members[0]
