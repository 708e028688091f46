"""Whose address a sign-in counts under, with no proxy in front, one, and two."""

import pytest
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIRequestFactory

from shopdiag.middleware import forwarded_address
from shopdiag.people.api.views import DescriptionThrottle
from tests.conftest import PASSWORD

SIGN_IN = reverse("people:sign-in")
# Addresses of RFC 5737 and RFC 3849, kept for documents.
BROWSER, OTHER, PROXY, INNER = "192.0.2.7", "192.0.2.8", "198.51.100.1", "203.0.113.5"


def _try(password: str, forwarded: str | None, peer: str = PROXY) -> int:
    headers = {} if forwarded is None else {"X-Forwarded-For": forwarded}
    sent = {"username": "diag", "password": password}
    return Client().post(SIGN_IN, sent, headers=headers, REMOTE_ADDR=peer).status_code


def _guess_until_shut(settings, forwarded: str | None) -> None:
    for _ in range(settings.AXES_FAILURE_LIMIT):
        last = _try("wrong", forwarded)
    assert last == 429


def test_without_a_proxy_the_header_is_ignored(cast, settings):
    assert settings.PROXY_COUNT == 0
    for n in range(settings.AXES_FAILURE_LIMIT - 1):
        assert _try("wrong", f"192.0.2.{n}") == 200
    assert _try("wrong", "192.0.2.99") == 429


@pytest.mark.parametrize("proxies", [1, 2])
def test_behind_proxies_a_guesser_does_not_lock_out_the_person(cast, settings, proxies):
    settings.PROXY_COUNT = proxies
    way = f", {INNER}" if proxies == 2 else ""
    _guess_until_shut(settings, BROWSER + way)
    assert _try(PASSWORD, BROWSER + way) == 429
    assert _try(PASSWORD, OTHER + way) == 302


@pytest.mark.parametrize("proxies", [1, 2])
def test_behind_proxies_a_made_up_header_helps_no_guesser(cast, settings, proxies):
    """The proxies add what they see at the right; everything to the left is made up."""
    settings.PROXY_COUNT = proxies
    way = f", {INNER}" if proxies == 2 else ""
    for n in range(settings.AXES_FAILURE_LIMIT - 1):
        assert _try("wrong", f"192.0.2.{n}, 10.0.0.{n}, {BROWSER}{way}") == 200
    assert _try("wrong", f"192.0.2.200, {BROWSER}{way}") == 429


def test_who_comes_past_the_proxies_counts_by_his_own_address(cast, settings):
    settings.PROXY_COUNT = 2
    for n in range(settings.AXES_FAILURE_LIMIT - 1):
        assert _try("wrong", f"192.0.2.{n}", peer=OTHER) == 200
    assert _try("wrong", "192.0.2.99", peer=OTHER) == 429


@pytest.mark.parametrize(
    ("header", "proxies", "address"),
    [
        ("", 0, None),
        ("", 1, None),
        (BROWSER, 0, None),
        (BROWSER, 1, BROWSER),
        (BROWSER, 2, None),
        (f"{BROWSER},{INNER}", 1, INNER),
        (f"{BROWSER} ,  {INNER}", 2, BROWSER),
        (f"6.6.6.6, {BROWSER}, {INNER}", 2, BROWSER),
        (f"{BROWSER}:51234", 1, BROWSER),
        ("2001:db8::7", 1, "2001:db8::7"),
        # RFC 7239, section 6: IPv6 in brackets, perhaps with a port.
        ("[2001:db8::7]", 1, "2001:db8::7"),
        ("[2001:DB8::7]:4711", 1, "2001:db8::7"),
        ("fe80::1%eth0", 1, "fe80::1"),
        ("unknown", 1, None),
        ("<script>", 1, None),
        ("192.0.2.7\x00", 1, None),
        (", ,", 2, None),
    ],
)
def test_which_entry_counts(header, proxies, address):
    assert forwarded_address(header, proxies) == address


def test_a_made_up_header_is_no_way_round_the_apis_limit():
    """The framework's own default would count each made-up address apart."""
    throttle = DescriptionThrottle()
    idents = {
        throttle.get_ident(
            APIRequestFactory().get(
                "/api/schema", headers={"X-Forwarded-For": forwarded}, REMOTE_ADDR=PROXY
            )
        )
        for forwarded in ("192.0.2.1", "192.0.2.2")
    }
    assert idents == {PROXY}
