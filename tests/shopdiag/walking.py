"""Every address of the service, and real ones for a furnished shop."""

from collections.abc import Iterator

from django.urls import URLPattern, URLResolver, get_resolver
from django.urls.converters import get_converters

# Django's own administration guards its pages itself; test_admin tries them.
GUARDED_ELSEWHERE = "admin"


def walk(
    patterns: list[URLPattern | URLResolver], spaces: tuple[str, ...] = (), lead: str = ""
) -> Iterator[tuple[str, str, URLPattern]]:
    """Yield name, address pattern and entry of each address."""
    for pattern in patterns:
        where = lead + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            inner = (*spaces, pattern.namespace) if pattern.namespace else spaces
            yield from walk(pattern.url_patterns, inner, where)
        else:
            yield ":".join((*spaces, pattern.name or "")), where, pattern


def all_addresses() -> list[tuple[str, str, URLPattern]]:
    """Return each address of our own."""
    return [
        found
        for found in walk(get_resolver().url_patterns)
        if not found[0].startswith(f"{GUARDED_ELSEWHERE}:")
    ]


def arguments_of(pattern: str) -> list[tuple[str, str]]:
    """Return the names and converters' class names of an address pattern's arguments."""
    found = []
    for part in pattern.split("<")[1:]:
        kind, _, name = part.split(">")[0].rpartition(":")
        found.append((name, type(get_converters()[kind or "str"]).__name__))
    return found
