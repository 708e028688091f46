"""How the API says what went wrong."""

from typing import Any

from django.core.exceptions import ValidationError as DjangoValidationError
from rest_framework.exceptions import ValidationError
from rest_framework.response import Response
from rest_framework.views import exception_handler as default_handler


def exception_handler(exc: Exception, context: dict[str, Any]) -> Response | None:
    """Turn the services' refusals into 400 with the same sentence the pages show."""
    if isinstance(exc, DjangoValidationError):
        detail: Any = exc.message_dict if hasattr(exc, "error_dict") else exc.messages
        exc = ValidationError(detail)
    return default_handler(exc, context)
