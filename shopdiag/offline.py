"""What a browser keeps for the time without a connection: one page that names nobody."""

import hashlib
import json
import re
from functools import lru_cache

from django.conf import settings
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils import translation
from django.views.decorators.http import require_safe

from shopdiag.people.language import is_language

_FILES = re.compile(r'(?:href|src)="(/[^"]+\.(?:css|js|svg)(?:\?[^"]*)?)"')
# Modules that other modules import are named by no page.
_IMPORTED = ("js/words.js", "js/draft_files.js", "js/draft_store.js", "js/draft_values.js")


@require_safe
def offline(request: HttpRequest) -> HttpResponse:
    """Return the page that stands for all others while there is no connection.

    It is made without the request: the browser keeps it, whoever is signed in.
    """
    language = _asked(request) or translation.get_language()
    return HttpResponse(_page(language), headers={"Content-Language": language})


@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """Return the script that answers where the server cannot; its address gives it all pages.

    What it keeps is named by a digest, so that another version of the service is another script,
    which replaces the one before.
    """
    script = _script(_asked(request) or settings.LANGUAGE_CODE)
    return HttpResponse(script, content_type="text/javascript; charset=utf-8")


def _asked(request: HttpRequest) -> str:
    asked = request.GET.get("language", "")
    return asked if is_language(asked) else ""


def _page(language: str) -> str:
    with translation.override(language):
        return render_to_string("offline.html", {"texts_digest": settings.LOCALE_PATHS[0].name})


@lru_cache(maxsize=16)
def _script(language: str) -> str:
    page = _page(language)
    named = [address.replace("&amp;", "&") for address in _FILES.findall(page)]
    kept = {
        "page": f"{reverse('offline')}?language={language}",
        "files": sorted({*named, *map(static, _IMPORTED)}),
        "folder": settings.STATIC_URL,
    }
    digest = hashlib.sha256(page.encode())
    digest.update(json.dumps(kept).encode())
    digest.update(getattr(staticfiles_storage, "manifest_hash", settings.VERSION).encode())
    constants = json.dumps({**kept, "version": digest.hexdigest()[:16]})
    return (
        f"self.KEPT = {constants};\nimportScripts({json.dumps(static('js/service_worker.js'))});\n"
    )
