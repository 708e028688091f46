"""In which language somebody reads: their own choice, else what their browser asks for."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.utils.cache import patch_vary_headers

from shopdiag.people.models import Member

# A shop may write numbers otherwise than the language does: UN M.49 names the regions.
_REGIONS = {("en", ","): "en-150", ("es", "."): "es-419"}


def language_choices() -> list[tuple[str, str]]:
    """Return the languages on offer, each by its own name."""
    return list(settings.LANGUAGES)


def is_language(code: str) -> bool:
    """Return whether a language is on offer."""
    return code in dict(settings.LANGUAGES)


def language_of(request: HttpRequest) -> str:
    """Return in which language a request is answered.

    Whoever is signed in has said it once; strangers and programs say it in `Accept-Language`, and
    who says nothing is answered in English.
    """
    own: str = getattr(request.user, "language", "")
    spoken = own if is_language(own) else translation.get_language_from_request(request)
    member: Member | None = request.member  # type: ignore[attr-defined]
    return with_region(spoken, member)


def with_region(language: str, member: Member | None) -> str:
    """Return a language as the member's shop writes its numbers."""
    return _REGIONS.get((language, member.shop.decimal_sign), language) if member else language


class LanguageMiddleware:
    """Answer in the reader's language."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with translation.override(language_of(request)):
            response = self.get_response(request)
            response.headers.setdefault("Content-Language", translation.get_language())
        patch_vary_headers(response, ("Accept-Language", "Cookie"))
        return response
