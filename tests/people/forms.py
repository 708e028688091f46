"""What a browser would send from a page's form."""

from typing import Any

from django.http import HttpResponse


def fields_of(page: HttpResponse) -> dict[str, Any]:
    """Return the form's values as they stand on the page, with nothing changed."""
    values: dict[str, Any] = {}
    for bound in page.context["form"]:  # type: ignore[attr-defined]
        value = bound.value()
        if value is True:
            values[bound.html_name] = "on"
        elif value is not None and value is not False:
            values[bound.html_name] = value
    return values
