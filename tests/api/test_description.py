"""The description of the API is complete and clean, and its page works without the internet."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.core.management import call_command
from django.urls import resolve
from playwright.sync_api import expect

from shopdiag.people.services import token_create
from tests.api.endpoints import ENDPOINTS
from tests.conftest import Cast

TOKEN = "00000000-0000-4000-8000-000000000001"
METHODS = {"get", "post", "put", "patch", "delete"}


@pytest.fixture(scope="module")
def described(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Return the description, drawn with every warning an error."""
    file: Path = tmp_path_factory.mktemp("api") / "schema.yaml"
    call_command("spectacular", "--validate", "--fail-on-warn", file=str(file))
    found: dict[str, Any] = yaml.safe_load(file.read_text())
    return found


def test_it_holds_every_method_of_every_address(described: dict[str, Any]):
    found = {
        (method, resolve(re.sub(r"{\w+}", "1", path.replace("{token}", TOKEN))).url_name)
        for path, item in described["paths"].items()
        for method in METHODS & set(item)
    }
    assert found == {(e.method, e.name) for e in ENDPOINTS}


def test_every_operation_asks_for_a_token_and_says_what_it_does(described: dict[str, Any]):
    for path, item in described["paths"].items():
        for method in METHODS & set(item):
            operation = item[method]
            assert operation["security"] == [{"token": []}], (method, path)
            assert operation["description"].endswith("."), (method, path)
    scheme = described["components"]["securitySchemes"]["token"]
    assert (scheme["in"], scheme["name"]) == ("header", "Authorization")


def test_what_goes_in_and_out_is_described(described: dict[str, Any]):
    parts = described["components"]["schemas"]
    upload = described["paths"]["/api/visits/{id}/captures/"]["post"]["requestBody"]["content"]
    assert list(upload) == ["multipart/form-data"]
    assert parts["CaptureUploadRequest"]["properties"]["file"]["items"]["format"] == "binary"
    assert "rows" in parts["FreezeFrame"]["properties"]
    # Whoever may not see it gets null.
    customer = parts["Visit"]["properties"]["customer"]
    assert customer["nullable"] is True


def test_strangers_may_read_it(client, db):
    assert client.get("/api/schema").status_code == 200
    page = client.get("/api/docs/")
    assert page.status_code == 200
    assert "unsafe" not in page["Content-Security-Policy"]
    assert b"<style" not in page.content
    assert b"://" not in page.content


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_its_page_works_without_the_internet_and_under_the_strict_policy(
    open_page: Callable[..., Any], live_server: Any, cast: Cast, settings: Any
):
    settings.DEBUG = False
    _, key = token_create(member=cast.owner, label="docs")
    page, complaints = open_page(base_url=live_server.url)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto("/api/docs/")
    expect(page.locator(".opblock")).to_have_count(len(ENDPOINTS), timeout=60_000)
    # Sign in with a token and ask for something, as a reader would.
    page.locator(".btn.authorize").first.click()
    page.locator(".modal-ux input").fill(f"Token {key}")
    page.locator(".modal-ux .btn.authorize").click()
    page.locator(".modal-ux .btn-done").click()
    block = page.locator(".opblock").filter(has_text="/api/engines/").first
    block.locator(".opblock-summary-control").click()
    block.get_by_role("button", name="Try it out").click()
    block.get_by_role("button", name="Execute").click()
    expect(block.locator(".live-responses-table .response-col_status")).to_have_text(
        ["Code", "200"]
    )
    assert complaints == []
    assert len(asked) > 5
    assert [url for url in asked if not url.startswith((live_server.url, "data:", "blob:"))] == []
