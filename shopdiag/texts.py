"""The texts of the scripts in the reader's language."""

from typing import cast

from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.views.decorators.http import require_GET
from django.views.i18n import JavaScriptCatalog

from shopdiag.people.language import is_language

_catalogue = JavaScriptCatalog.as_view(domain="djangojs", packages=["shopdiag"])


@require_GET
def scripts_texts(request: HttpRequest) -> HttpResponse:
    """Return what `js/words.js` looks up; pages ask by language and digest, so it may be kept."""
    asked = request.GET.get("language", "")
    with translation.override(asked if is_language(asked) else translation.get_language()):
        answer = cast("HttpResponse", _catalogue(request))
    answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    return answer
