"""Headers that every page carries."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)


class ContentSecurityPolicyMiddleware:
    """Let pages load from this server only, and run no script or style written inline."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", _POLICY)
        response.headers.setdefault("Permissions-Policy", "geolocation=(), microphone=()")
        return response
