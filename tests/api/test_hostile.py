"""Whatever a program sends, the answer is a refusal in words, never a crash."""

import json
import math
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rest_framework.throttling import UserRateThrottle

from jobs.models import Note
from tests.api.conftest import ApiFor, World, program
from tests.api.endpoints import ENDPOINTS, Endpoint
from tests.api.kept_world import cast, four, kept, taken, world
from tests.conftest import Cast

pytestmark = pytest.mark.every_database

__all__ = ["cast", "four", "kept", "taken", "world"]

NOTES = "/api/visits/{}/notes/"


def send(client: Any, method: str, path: str, body: str | bytes, kind: str = "application/json"):
    return client.generic(method.upper(), path, body, content_type=kind)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"text=x", "not JSON"),
        (b'{"text": "x"', "not JSON"),
        (b'{"text": NaN}', "NaN is not a number"),
        (b'{"text": -Infinity}', "Infinity is not a number"),
        (b'{"text": 1e999}', "larger than any number"),
        (b'\xff\xfe{"text"', "UTF-8"),
        (b'{"text": "\\ud800"}', "UTF-8"),
        (b'{"text": ' + b"9" * 5000 + b"}", "not JSON"),
        (b"[" * 200_000, "nested too deeply"),
        (b'{"text":' * 200_000, "nested too deeply"),
        (b"[]", ""),
        (b"null", ""),
        (b"true", ""),
        (b'"text"', ""),
        (b"12", ""),
    ],
    ids=lambda v: str(v[:20]),
)
def test_bodies_that_are_no_request(*, cast: Cast, api_for: ApiFor, visit, body: bytes, words: str):
    answer = send(api_for(cast.owner), "post", NOTES.format(visit.pk), body)
    assert answer.status_code == 400
    assert words in answer.json()["detail"]
    assert not Note.objects.filter(visit=visit).exists()


def test_a_body_larger_than_any_form_is_refused(cast: Cast, api_for: ApiFor, visit):
    body = json.dumps({"text": "x" * 3_000_000})
    answer = send(api_for(cast.owner), "post", NOTES.format(visit.pk), body)
    assert answer.status_code == 413
    assert answer.json()["detail"].endswith(".")


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "x"]
)
def test_only_json_is_read(cast: Cast, api_for: ApiFor, visit, kind: str):
    answer = send(api_for(cast.owner), "post", NOTES.format(visit.pk), '{"text": "x"}', kind)
    assert answer.status_code == 415


@pytest.mark.parametrize("charset", ["utf-8", "utf-16", "zlib", "idna", "nonsense"])
def test_json_is_utf_8_whatever_the_header_says(cast: Cast, api_for: ApiFor, visit, charset: str):
    body = '{"text": "Zündkerze"}'.encode()
    answer = send(
        api_for(cast.owner),
        "post",
        NOTES.format(visit.pk),
        body,
        f"application/json; charset={charset}",
    )
    assert (answer.status_code, answer.json()["text"]) == (201, "Zündkerze")


@pytest.mark.parametrize(
    "header",
    ["Token", "Token ", "Token a b", "Token \xff\xfe", "Token " + "x" * 5000, "Token \x00"],
)
def test_headers_that_are_no_token(db, header: str):
    answer = program(header).get("/api/visits/")
    assert answer.status_code == 401
    assert answer.json()["detail"].endswith((".", "”."))


def test_what_a_note_holds_comes_back_as_text(cast: Cast, api_for: ApiFor, visit):
    client, text = api_for(cast.owner), "<script>alert(1)</script>\u202e 🔧"
    answer = client.post(NOTES.format(visit.pk), {"text": text})
    assert answer.json()["text"] == text
    assert answer["Content-Type"] == "application/json"
    assert answer["X-Content-Type-Options"] == "nosniff"


ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.sampled_from([0, -1, 2**31, 2**63, -(2**70), 10**400]),
    st.sampled_from([math.inf, -math.inf, 1e308, -0.0, 5e-324, 0.5]),
    # Any text, with halves of characters and the character that databases refuse.
    st.text(max_size=12),
    st.sampled_from(["\x00", "a\x00b", "\ud800", "9" * 400, "1e999", "NaN", "../..", "x" * 30_000]),
    st.just([]),
    st.just({}),
)
DEEP = st.recursive(
    ODD,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner),
    max_leaves=6,
)
WRITES = [e for e in ENDPOINTS if e.method in {"post", "patch"} and e.body]
# Names beyond those that the table's bodies hold.
FURTHER: dict[str, list[str]] = {
    "visits": ["odometer", "form_token", "customer_id", "vehicle_id", "another"],
    "triage": ["verified", "battery_v", "remarks", "version"],
    "judgements": ["run", "cylinders", "form_token"],
    "visit-orders": ["request", "scope", "scope_minutes", "stop_and_call", "tests"],
    "outcome": ["cause", "verified", "verified_how", "version"],
    "capture-runs": [
        *("engine", "tdc_angles", "fuel", "invert", "sync", "full_scale_v", "rate_hz"),
        *("fuel_off", "charger_off", "throttle", "temperature", "battery_v", "form_token"),
    ],
    "findings": ["leak_percent", "heard_at", "conditions", "words", "replaces", "form_token"],
    "freeze-frames": ["code"],
    "misfires": ["period"],
}


def as_sent(value: Any) -> str:
    """Return JSON as a careless program writes it: infinity as a number too large to hold."""
    return json.dumps(value).replace("Infinity", "1e999")


@st.composite
def spoilt(draw: Any, body: dict[str, Any], further: list[str]) -> Any:
    """A right request with something odd in one or two places."""
    wrong: Any = json.loads(json.dumps(body))
    for _ in range(draw(st.integers(1, 2))):
        place = wrong
        name = draw(st.sampled_from([*wrong, *further]))
        while isinstance(place.get(name), dict) and place[name] and draw(st.booleans()):
            place = place[name]
            name = draw(st.sampled_from([*place, "authorised_minutes", "engine", "year"]))
        place[name] = draw(DEEP)
    return wrong


def _body(endpoint: Endpoint, world: World) -> dict[str, Any]:
    if endpoint.name == "visit-orders":
        return {"judgement": world.judgement.pk}
    return dict(endpoint.body)


@pytest.mark.parametrize(
    "endpoint", [*WRITES, *(e for e in ENDPOINTS if str(e) == "post visit-orders")], ids=str
)
def test_odd_json_is_refused_in_words(
    cast: Cast, api_for: ApiFor, world: World, endpoint: Endpoint
):
    client, path = api_for(cast.owner), endpoint.address(world)
    right = _body(endpoint, world)
    if endpoint.name == "visit-orders":
        # Else the order that is there answers before anything is read.
        world.finding.delete()
        world.order.delete()

    @settings(
        max_examples=60,
        deadline=None,
        database=None,
        derandomize=True,
        suppress_health_check=[HealthCheck.too_slow],
    )
    @given(spoilt(right, FURTHER.get(endpoint.name, [])) | DEEP)
    def ask(body: Any) -> None:
        with transaction.atomic():
            answer = send(client, endpoint.method, path, as_sent(body))
            transaction.set_rollback(True)
        assert answer.status_code in {200, 201, 202, 400, 404, 409}, body
        told = json.loads(answer.content, parse_constant=pytest.fail)
        assert isinstance(told, dict)
        if answer.status_code >= 400:
            assert told

    ask()


def test_a_token_that_asks_too_much_is_told_to_wait(cast: Cast, api_for: ApiFor, monkeypatch):
    monkeypatch.undo()
    monkeypatch.setattr(UserRateThrottle, "rate", "2/min", raising=False)
    client = api_for(cast.owner)
    answers = [client.get("/api/engines/") for _ in range(3)]
    assert [answer.status_code for answer in answers] == [200, 200, 429]
    assert int(answers[2]["Retry-After"]) > 0
