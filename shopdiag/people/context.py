"""What every template may ask about the person."""

from typing import Any

from django.http import HttpRequest

from shopdiag.people.core.roles import Action
from shopdiag.people.saved_forms import saved_tokens


def member(request: HttpRequest) -> dict[str, Any]:
    """Offer `member`, `may.<action>` and the forms that were saved lately to templates."""
    found = getattr(request, "member", None)
    return {
        "member": found,
        "saved_forms": saved_tokens(request) if found else [],
        "may": {action.value: bool(found and found.may(action)) for action in Action},
    }
