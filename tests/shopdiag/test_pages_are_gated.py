"""Every address is public on purpose or asks who is there; a new page cannot slip through."""

from collections.abc import Iterator

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.urls.converters import get_converters

# Addresses that strangers may see, each with its reason.
PUBLIC = {
    "home": "only points to the board",
    "healthz": "asked by whoever watches the service",
    "kit": "sample values only",
    "kit-curve": "sample values only",
    "people:sign-in": "where strangers go",
    "people:sign-out": "ends a session, whoever asks",
    "people:first-run": "before there is anybody; gone afterwards",
    "api:nowhere": "says that nothing is at this address",
    "api:schema": "describes the interface, holds no data",
    "api:docs": "describes the interface, holds no data",
}
# Django's own administration guards its pages itself; test_admin tries them.
GUARDED_ELSEWHERE = "admin"


def _walk(
    patterns: list[URLPattern | URLResolver], spaces: tuple[str, ...] = (), lead: str = ""
) -> Iterator[tuple[str, str, URLPattern]]:
    for pattern in patterns:
        where = lead + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            inner = (*spaces, pattern.namespace) if pattern.namespace else spaces
            yield from _walk(pattern.url_patterns, inner, where)
        else:
            yield ":".join((*spaces, pattern.name or "")), where, pattern


def _all() -> list[tuple[str, str, URLPattern]]:
    return [
        found
        for found in _walk(get_resolver().url_patterns)
        if not found[0].startswith(f"{GUARDED_ELSEWHERE}:")
    ]


def _is_gated(pattern: URLPattern) -> bool:
    view = pattern.callback
    if getattr(view, "required_actions", None):
        return True
    # Set by Django on what login_required wraps.
    if hasattr(view, "login_url"):
        return True
    api = getattr(view, "cls", None)
    if api is None:
        return False
    guards = {guard.__name__ for guard in api.permission_classes}
    return "IsMember" in guards and bool(getattr(api, "actions", None))


def test_there_are_pages_to_walk():
    assert len(_all()) > 20


@pytest.mark.parametrize(("name", "where", "pattern"), _all(), ids=lambda v: str(v)[:60])
def test_each_address_is_gated_or_public_on_purpose(name, where, pattern):
    assert _is_gated(pattern) != (name in PUBLIC), f"{where} ({name}) is neither or both"


def test_the_public_list_holds_nothing_that_is_gone():
    assert set(PUBLIC) <= {name for name, _, _ in _all()}


def _sample_values(pattern: str) -> dict[str, object]:
    samples = {"IntConverter": 1, "StringConverter": "x", "SlugConverter": "x"}
    values: dict[str, object] = {}
    for part in pattern.split("<")[1:]:
        kind, _, name = part.split(">")[0].rpartition(":")
        converter = get_converters()[kind or "str"]
        values[name] = samples[type(converter).__name__]
    return values


@pytest.mark.parametrize(
    ("name", "where"), [(n, w) for n, w, _ in _all() if n not in PUBLIC], ids=lambda v: v
)
@pytest.mark.parametrize("method", ["get", "post"])
def test_strangers_get_nothing(cast, name, where, method):
    answer = getattr(Client(), method)(reverse(name, kwargs=_sample_values(where)))
    if answer.status_code == 302:
        assert answer.url.startswith(reverse("people:sign-in"))
    else:
        # The gate sits outside the check of the method or inside it; both keep strangers out.
        assert answer.status_code in {401, 403, 405}


@pytest.mark.parametrize("name", ["people:sign-in", "kit", "healthz"])
def test_the_content_policy_is_on_every_answer(cast, name):
    policy = Client().get(reverse(name))["Content-Security-Policy"]
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert rules["script-src"] == rules["style-src"] == "'self'"
    assert rules["frame-ancestors"] == rules["base-uri"] == "'none'"
    assert "unsafe" not in policy


def test_the_content_policy_is_on_errors_too(cast):
    answer = Client().get("/nowhere/at/all/")
    assert answer.status_code == 404
    assert "script-src 'self'" in answer["Content-Security-Policy"]
