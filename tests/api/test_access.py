"""Every address of the API: no token, a dead one, each role, another shop, another method."""

from typing import Any

import pytest
from django.db import transaction
from django.urls import get_resolver

from jobs.models import TimelineEvent, WorkOrder
from shopdiag.people.core.roles import Role
from shopdiag.people.models import ApiToken
from shopdiag.people.services import token_create, token_revoke
from tests.api.conftest import ApiFor, World, program
from tests.api.endpoints import ENDPOINTS, NEW_JOB, RUN, Endpoint
from tests.api.kept_world import cast, four, kept, taken, visit, world
from tests.conftest import Cast

__all__ = ["cast", "four", "kept", "taken", "visit", "world"]

each = pytest.mark.parametrize("endpoint", ENDPOINTS, ids=str)


def _with_its_order(endpoint: Endpoint, world: World) -> Endpoint:
    if str(endpoint) == "post visit-orders":
        return Endpoint(
            "post", "visit-orders", "visit", endpoint.who, 201, {"judgement": world.judgement.pk}
        )
    return endpoint


def test_the_table_holds_every_method_of_every_address():
    parts: list[Any] = [p for p in get_resolver().url_patterns if p.pattern.describe() == "'api/'"]
    patterns = [p for part in parts[0].url_patterns for p in getattr(part, "url_patterns", [])]
    assert patterns
    found: set[tuple[str, str]] = set()
    for pattern in patterns:
        view = pattern.callback.cls
        has = {m for m in ("get", "post", "put", "patch", "delete") if hasattr(view, m)}
        # What a view can do and what it names roles for are the same.
        assert {method.lower() for method in view.actions} == has
        found |= {(method, pattern.name) for method in has}
    assert found == {(e.method, e.name) for e in ENDPOINTS}


@pytest.mark.parametrize("header", [None, "Token nonsense", "Bearer x", "Token a b"])
def test_without_a_token_nothing_is_told(world: World, header: str | None):
    for endpoint in ENDPOINTS:
        answer = endpoint.ask(program(header), world)
        assert answer.status_code == 401, endpoint
        assert answer["WWW-Authenticate"] == "Token"
        assert set(answer.json()) == {"detail"}
        assert answer.json()["detail"].endswith(".")


def test_a_revoked_token_is_refused_at_once(cast: Cast, world: World):
    token, key = token_create(member=cast.owner, label="old laptop")
    assert program(f"Token {key}").get("/api/visits/").status_code == 200
    token_revoke(token=token, by=cast.owner)
    for endpoint in ENDPOINTS:
        answer = endpoint.ask(program(f"Token {key}"), world)
        assert answer.status_code == 401, endpoint
        assert "revoked" in answer.json()["detail"]


@each
def test_roles(cast: Cast, api_for: ApiFor, world: World, endpoint: Endpoint):
    endpoint = _with_its_order(endpoint, world)
    if endpoint.name == "accept":
        # The world's order is in the mechanic's hands already.
        WorkOrder.objects.update(state="open", accepted_by=None, assigned_to=None)
    for role, member in cast.insiders.items():
        with transaction.atomic():
            answer = endpoint.ask(api_for(member), world)
            transaction.set_rollback(True)
        if role in endpoint.who:
            assert answer.status_code == endpoint.status, (role, answer.content)
        else:
            assert answer.status_code == 403, role
            assert "role" in answer.json()["detail"]


def test_another_shop_sees_nothing(cast: Cast, api_for: ApiFor, world: World):
    assert world.question.answered_at is None
    before = TimelineEvent.objects.count()
    for endpoint in (_with_its_order(e, world) for e in ENDPOINTS if e.on):
        for member in (cast.other_owner, cast.outsider):
            answer = endpoint.ask(api_for(member), world)
            assert answer.status_code == 404, endpoint
            assert set(answer.json()) == {"detail"}
        # A mechanic of the other shop is stopped by the role already, or by the shop.
        answer = endpoint.ask(api_for(cast.both_there), world)
        assert answer.status_code in ({404} if Role.MECHANIC in endpoint.who else {403, 404})
    assert TimelineEvent.objects.count() == before


@pytest.mark.parametrize("name", ["visits", "work-orders"])
def test_lists_of_another_shop_are_empty(
    cast: Cast, api_for: ApiFor, world: World, their_visit, name: str
):
    (endpoint,) = (e for e in ENDPOINTS if str(e) == f"get {name}")
    mine = endpoint.ask(api_for(cast.owner), world).json()
    theirs = endpoint.ask(api_for(cast.other_owner), world).json()
    assert mine["count"] == 1
    assert [row["id"] for row in theirs["results"]] == (
        [their_visit.pk] if name == "visits" else []
    )


def test_an_engine_of_another_shop_is_neither_listed_nor_taken(
    cast: Cast, api_for: ApiFor, world: World, four
):
    theirs = api_for(cast.outsider)
    assert four.pk not in {e["id"] for e in theirs.get("/api/engines/").json()["results"]}
    body = {**NEW_JOB, "vehicle": {**NEW_JOB["vehicle"], "engine": four.pk}}
    answer = theirs.post("/api/visits/", body)
    assert answer.status_code == 400
    assert "engine" in answer.json()["vehicle"]
    four.shop = cast.other_shop
    four.save()
    asked = {**RUN, "engine": four.pk}
    answer = api_for(cast.owner).post(f"/api/captures/{world.capture.pk}/runs/", asked)
    assert answer.status_code == 400
    assert "engine" in answer.json()


def test_methods_that_nobody_has(cast: Cast, api_for: ApiFor, world: World):
    client = api_for(cast.owner)
    for endpoint in ENDPOINTS:
        has = {e.method for e in ENDPOINTS if e.name == endpoint.name}
        for method in {"get", "post", "put", "patch", "delete"} - has:
            answer = getattr(client, method)(endpoint.address(world))
            assert answer.status_code == 405, (endpoint, method)
            assert set(answer.json()) == {"detail"}
        assert client.options(endpoint.address(world)).status_code == 200


def test_numbers_that_nobody_has_are_not_found(cast: Cast, api_for: ApiFor, world: World):
    client = api_for(cast.owner)
    for number in (0, 999_999, 2**31, 2**63, 2**64, 10**40):
        for address in ("visits/{}/", "captures/{}/runs/", "runs/{}/", "work-orders/{}/accept/"):
            path = "/api/" + address.format(number)
            answer = client.post(path) if "accept" in path else client.get(path)
            assert answer.status_code == 404, path


@pytest.mark.parametrize("path", ["/api/", "/api/visits", "/api/nothing/here/", "/api/visits/x/"])
@pytest.mark.parametrize("method", ["get", "post"])
def test_addresses_that_are_none_answer_in_kind(client, db, path: str, method: str):
    answer = getattr(client, method)(path)
    assert answer.status_code == 404
    assert "/api/docs/" in answer.json()["detail"]


def test_use_is_noted_once_a_minute_only(
    cast: Cast, api_for: ApiFor, django_assert_num_queries, world: World
):
    client = api_for(cast.owner)
    client.get("/api/engines/")
    used = ApiToken.objects.get(member=cast.owner).last_used_at
    assert used is not None
    # The token with its member, and the run: a program that waits for a run writes nothing.
    with django_assert_num_queries(2):
        client.get(f"/api/runs/{world.run.pk}/")
    assert ApiToken.objects.get(member=cast.owner).last_used_at == used
