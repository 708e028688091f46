"""Headers that every page carries, and whose address a request counts under."""

import ipaddress
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase

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


class NoBodyMiddleware:
    """Answer HEAD without a body, as long as its GET would be.

    Not every server drops the body by itself, and what follows on the same connection would be
    taken for the next answer.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        # As it came: a header may stand for another method, whose answer is awaited.
        if request.META["REQUEST_METHOD"] == "HEAD":
            if isinstance(response, StreamingHttpResponse):
                response.streaming_content = ()
            elif isinstance(response, HttpResponse):
                response.content = b""
        return response


class NothingKeptMiddleware:
    """Let no cache on the way, and no browser, keep a page that does not ask to be kept.

    Pages name customers, and a bay tablet passes from hand to hand. What may stay for a while
    (pictures, plots, the look) says so itself.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Cache-Control", "private, no-store")
        return response


class ClientAddressMiddleware:
    """Take the browser's address from `X-Forwarded-For` where PROXY_COUNT proxies stand in front.

    Each proxy adds the address it was asked from at the right end of the header; whatever
    stands further left came from outside and can be made up. So the entry that counts is the
    one that many places from the right. Without proxies, or where the header does not hold
    that many entries, the connection's own address stands.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        address = forwarded_address(
            request.META.get("HTTP_X_FORWARDED_FOR", ""), settings.PROXY_COUNT
        )
        if address:
            request.META["REMOTE_ADDR"] = address
        return self.get_response(request)


def forwarded_address(header: str, proxies: int) -> str | None:
    """Return the address that the outermost of one's own proxies was asked from.

    Parameters
    ----------
    header
        `X-Forwarded-For`, addresses parted by commas, the nearest last.
    proxies
        How many of one's own proxies a request passes.
    """
    entries = [entry.strip() for entry in header.split(",")]
    if proxies < 1 or len(entries) < proxies:
        return None
    entry = entries[-proxies]
    if entry.startswith("["):
        # Brackets and perhaps a port, as RFC 7239 section 6 writes IPv6 addresses.
        entry = entry[1:].partition("]")[0]
    elif entry.count(":") == 1:
        entry = entry.partition(":")[0]
    try:
        found = ipaddress.ip_address(entry)
    except ValueError:
        return None
    # A zone belongs to one machine's own links and is no part of the address elsewhere.
    return str(found).partition("%")[0]
