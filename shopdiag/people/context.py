"""What every template may ask about the person."""

from typing import Any

from django.http import HttpRequest

from shopdiag.people.core.roles import Action


def member(request: HttpRequest) -> dict[str, Any]:
    """Offer `member` and `may.<action>` to templates."""
    found = getattr(request, "member", None)
    return {
        "member": found,
        "may": {action.value: bool(found and found.may(action)) for action in Action},
    }
