"""How the API says what went wrong.

Every error is an object: what belongs to a field under its name, as a list of sentences, and
everything else as one string under `detail`.
"""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import (
    RequestDataTooBig,
    TooManyFieldsSent,
    TooManyFilesSent,
)
from django.core.exceptions import ValidationError as DjangoValidationError
from django.http import Http404
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from rest_framework import exceptions, status
from rest_framework.response import Response
from rest_framework.settings import api_settings
from rest_framework.views import exception_handler as default_handler

from shopdiag.people.services import SavedMeanwhileError

NOT_HERE = _("This is not on file in your shop; check the address and the number in it.")
SIGN_IN = _(
    "Send a token as the header “Authorization: Token KEY”; make one on the page “Your tokens”."
)
_NO_FIELD = "__all__"


class SavedMeanwhile(exceptions.APIException):
    """Somebody else saved the record after the caller read it."""

    status_code = status.HTTP_409_CONFLICT
    default_detail = _(
        "Somebody else saved this meanwhile; read it again and send your change anew."
    )
    default_code = "saved_meanwhile"


class TooLarge(exceptions.APIException):
    """The request's body is larger than any request needs to be."""

    status_code = status.HTTP_413_REQUEST_ENTITY_TOO_LARGE
    default_detail = _("This request is too large; send less at once.")
    default_code = "too_large"


_TOLD: tuple[tuple[type[Exception] | tuple[type[Exception], ...], Callable[[], Exception]], ...] = (
    (SavedMeanwhileError, SavedMeanwhile),
    (Http404, lambda: exceptions.NotFound(NOT_HERE)),
    (RequestDataTooBig, TooLarge),
    (
        (TooManyFieldsSent, TooManyFilesSent),
        lambda: exceptions.ParseError(
            gettext("This request has too many parts; send fewer at once.")
        ),
    ),
)


def exception_handler(exc: Exception, context: dict[str, Any]) -> Response | None:
    """Answer refusals with the sentences that the pages show."""
    response = default_handler(_told(exc, context), context)
    if response is not None:
        response.data = _tidy(response.data)
    return response


def _told(exc: Exception, context: dict[str, Any]) -> Exception:
    """Return the exception that the framework knows how to answer."""
    if isinstance(exc, DjangoValidationError):
        detail: Any = exc.message_dict if hasattr(exc, "error_dict") else exc.messages
        return exceptions.ValidationError(detail)
    if isinstance(exc, exceptions.NotAuthenticated):
        # The framework hung the header on it that says how to sign in.
        exc.detail = exceptions.ErrorDetail(str(SIGN_IN), exc.default_code)
    if isinstance(exc, exceptions.PermissionDenied):
        return _refused(exc, context)
    return next((told() for kind, told in _TOLD if isinstance(exc, kind)), exc)


def _refused(exc: Exception, context: dict[str, Any]) -> Exception:
    """Tell a method that nobody may use here from one that this role may not use."""
    view, request = context.get("view"), context.get("request")
    if view is None or request is None or hasattr(view, str(request.method).lower()):
        return exc
    return exceptions.MethodNotAllowed(str(request.method))


def _tidy(data: Any) -> Any:  # noqa: ANN401 - what the framework answers
    """Put what belongs to no field under `detail`, as one string."""
    if isinstance(data, list):
        return {"detail": " ".join(_sentences(data))}
    if not isinstance(data, dict):
        return data
    tidy = dict(data)
    general = [
        sentence
        for name in (_NO_FIELD, api_settings.NON_FIELD_ERRORS_KEY)
        for sentence in _sentences(tidy.pop(name, []))
    ]
    if general:
        tidy["detail"] = " ".join(general)
    return tidy


def _sentences(found: Any) -> list[str]:  # noqa: ANN401 - as nested as the request was
    if isinstance(found, dict):
        return [sentence for inner in found.values() for sentence in _sentences(inner)]
    if isinstance(found, list | tuple):
        return [sentence for inner in found for sentence in _sentences(inner)]
    return [str(found)]
