"""What browsers and proxies may keep of a page, and what they forget at sign-out."""

import pytest
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from shopdiag.people.services import token_create
from tests.shopdiag.walking import all_addresses

# What a browser may keep for a while, for its own person only.
KEPT = {"jobs:photo", "texts", "traces:plot", "traces:curve", "traces:evidence", "traces:original"}
NAMES = [name for name, _, _ in all_addresses()]


def _rules(answer) -> set[str]:
    return {rule.strip().split("=")[0] for rule in answer["Cache-Control"].split(",")}


def _ask(client, address):
    answer = client.get(address)
    if answer.streaming:
        assert b"".join(answer.streaming_content)
    return answer


def test_no_answer_is_kept_that_does_not_ask_to_be(furnished, client_for):
    """All addresses, as the owner, to whom everything is shown."""
    client = client_for(furnished.cast.owner)
    program = APIClient()
    _, key = token_create(member=furnished.cast.owner, label="x")
    program.credentials(HTTP_AUTHORIZATION=f"Token {key}")
    shown = set()
    for name, address in furnished.addresses().items():
        if name == "people:sign-out":
            continue
        answer = _ask(program if name.startswith("api:") else client, address)
        assert answer.status_code < 500, name
        rules = _rules(answer)
        assert "private" in rules, name
        assert "public" not in rules, name
        assert ("no-store" in rules) != (name in KEPT), name
        if answer.status_code == 200:
            shown.add(name)
    # The walk saw content, and not only refusals, behind all that are kept and most others.
    assert shown >= KEPT
    assert len(shown) > 0.6 * len(NAMES)


def test_refusals_and_wrong_addresses_are_not_kept_either(cast, client_for):
    mechanic = client_for(cast.mechanic)
    for client, address in (
        (mechanic, reverse("people:team")),
        (mechanic, reverse("jobs:visit", args=[1])),
        (mechanic, "/nowhere/"),
        (Client(), reverse("jobs:board")),
        (Client(), reverse("people:sign-in")),
        (Client(), "/api/visits/"),
    ):
        assert "no-store" in _rules(client.get(address)), address


def test_the_look_may_be_kept(client, db):
    answer = _ask(client, "/static/css/tokens.css")
    assert answer.status_code == 200
    assert "no-store" not in answer.get("Cache-Control", "")


@pytest.mark.parametrize("method", ["post", "get"])
def test_signing_out_has_the_browser_forget(cast, client_for, method):
    answer = getattr(client_for(cast.writer), method)(reverse("people:sign-out"))
    # W3C "Clear Site Data", section 3.1: quoted strings parted by commas.
    expected = '"cache", "storage"' if method == "post" else None
    assert answer.get("Clear-Site-Data") == expected


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_a_browser_does_forget(cast, live_server, signed_in_page):
    page, _ = signed_in_page(
        cast.writer, base_url=live_server.url.replace("127.0.0.1", "localhost")
    )
    page.goto("/jobs/")
    page.evaluate("localStorage.setItem('left-behind', 'Casey Customer')")
    page.locator("details.menu summary").click()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/people/sign-in/**")
    assert page.evaluate("localStorage.getItem('left-behind')") is None
    # Going back shows no page of the person who left.
    page.go_back()
    page.wait_for_url("**/people/sign-in/**")
    assert "Wren Writer" not in page.content()
