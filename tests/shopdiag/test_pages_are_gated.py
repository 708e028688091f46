"""Every address is public on purpose or asks who is there; a new page cannot slip through."""

from uuid import UUID

import pytest
from django.test import Client
from django.urls import URLPattern, reverse

from tests.shopdiag.walking import all_addresses, arguments_of

# Addresses that strangers may see, each with its reason.
PUBLIC = {
    "home": "only points to the board",
    "healthz": "asked by whoever watches the service",
    "texts": "words of the scripts, the same for everybody",
    "offline": "what stands for a page without a connection; names nobody",
    "service-worker": "the script that shows it, the same for everybody",
    "kit": "sample values only",
    "kit-curve": "sample values only",
    "people:sign-in": "where strangers go",
    "people:sign-out": "ends a session, whoever asks",
    "people:first-run": "before there is anybody; gone afterwards",
    "people:join": "for whom a link was made; says nothing without one",
    "api:nowhere": "says that nothing is at this address",
    "api:schema": "describes the interface, holds no data",
    "api:docs": "describes the interface, holds no data",
}


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
    assert len(all_addresses()) > 20


@pytest.mark.parametrize(("name", "where", "pattern"), all_addresses(), ids=lambda v: str(v)[:60])
def test_each_address_is_gated_or_public_on_purpose(name, where, pattern):
    assert _is_gated(pattern) != (name in PUBLIC), f"{where} ({name}) is neither or both"


def test_the_public_list_holds_nothing_that_is_gone():
    assert set(PUBLIC) <= {name for name, _, _ in all_addresses()}


def _sample_values(pattern: str) -> dict[str, object]:
    samples = {
        "IntConverter": 1,
        "StringConverter": "x",
        "SlugConverter": "x",
        "UUIDConverter": UUID(int=1),
    }
    return {name: samples[kind] for name, kind in arguments_of(pattern)}


@pytest.mark.parametrize(
    ("name", "where"), [(n, w) for n, w, _ in all_addresses() if n not in PUBLIC], ids=lambda v: v
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
