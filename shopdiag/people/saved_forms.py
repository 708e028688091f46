"""Telling a browser which of its forms were saved, so that it forgets what it kept of them."""

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect

_KEY = "saved_forms"
_MOST = 20
BY_SCRIPT = "X-Sent-By-Script"
"""Header of a form that the page's script sends: it is told where to go on, and goes by itself."""


def note_saved(request: HttpRequest) -> None:
    """Remember in the session that a form was saved, by the token it carried."""
    token = request.POST.get("form_token", "")
    if token and len(token) <= len("00000000-0000-0000-0000-000000000000"):
        known = [t for t in request.session.get(_KEY, []) if t != token]
        request.session[_KEY] = [*known, token][-_MOST:]


def saved_tokens(request: HttpRequest) -> list[str]:
    """Return the tokens of the forms that were saved lately in this session."""
    tokens: list[str] = request.session.get(_KEY, [])
    return tokens


def saved_answer(request: HttpRequest, address: str) -> HttpResponse:
    """Lead on after a form was saved."""
    note_saved(request)
    if request.headers.get(BY_SCRIPT):
        return JsonResponse({"to": address})
    return redirect(address)
