"""Tokens: made by each member, shown once, revoked at once, never another's power."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request
from rest_framework.test import APIRequestFactory
from rest_framework.views import APIView

from shopdiag.people.authentication import (
    IsMember,
    MemberTokenAuthentication,
    member_of,
)
from shopdiag.people.core.roles import Action
from shopdiag.people.core.tokens import token_digest
from shopdiag.people.models import ApiToken
from shopdiag.people.services import member_change, token_create, token_revoke

TOKENS = reverse("people:tokens")


def _ask(header: str | None, method: str = "get") -> Request:
    extra = {} if header is None else {"HTTP_AUTHORIZATION": header}
    plain = getattr(APIRequestFactory(), method)("/", **extra)
    return Request(plain, authenticators=[MemberTokenAuthentication()])


def _make(client) -> str:
    answer = client.post(TOKENS, {"label": "bench laptop"})
    assert answer.status_code == 201
    key: str = answer.context["key"]
    return key


@pytest.mark.parametrize("role", ["owner", "diagnostician", "mechanic", "writer"])
def test_everybody_makes_his_own(cast, client_for, role):
    member = getattr(cast, role)
    key = _make(client_for(member))
    request = _ask(f"Token {key}")
    assert request.user == member.user
    assert member_of(request) == member


def test_the_key_is_shown_once_and_kept_nowhere(cast, client_for):
    client = client_for(cast.writer)
    key = _make(client)
    assert key not in client.get(TOKENS).content.decode()
    token = ApiToken.objects.get()
    assert token.digest == token_digest(key)
    kept = [str(value) for value in ApiToken.objects.values_list()[0]]
    assert all(key not in value for value in kept)
    assert "no-store" in client.post(TOKENS, {"label": "x"})["Cache-Control"]


def test_the_digest_is_sha256():
    # NIST FIPS 180-4 example: SHA-256 of the three bytes "abc".
    assert token_digest("abc") == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )


def test_a_token_needs_a_purpose(cast, client_for):
    assert client_for(cast.writer).post(TOKENS, {"label": " "}).status_code == 422
    assert not ApiToken.objects.exists()


def test_a_revoked_token_is_refused_at_once(cast, client_for):
    client = client_for(cast.diagnostician)
    key = _make(client)
    token = ApiToken.objects.get()
    assert client.post(reverse("people:token-revoke", args=[token.pk]))["Location"] == TOKENS
    with pytest.raises(AuthenticationFailed, match="revoked"):
        MemberTokenAuthentication().authenticate(_ask(f"Token {key}"))


def test_nobody_sees_or_revokes_anothers_token(cast, client_for):
    token, _ = token_create(member=cast.mechanic, label="phone of the mechanic")
    for member in (cast.owner, cast.outsider, cast.other_owner):
        client = client_for(member)
        assert "phone of the mechanic" not in client.get(TOKENS).content.decode()
        assert client.post(reverse("people:token-revoke", args=[token.pk])).status_code == 404
    token.refresh_from_db()
    assert token.revoked_at is None


def test_revoking_by_a_link_does_nothing(cast, client_for):
    token, _ = token_create(member=cast.mechanic, label="x")
    address = reverse("people:token-revoke", args=[token.pk])
    assert client_for(cast.mechanic).get(address).status_code == 405


@pytest.mark.parametrize("header", ["Token", "Token a b", "Token nonsense", "Token \xff"])
def test_broken_headers_are_refused_with_a_sentence(db, header):
    with pytest.raises(AuthenticationFailed) as caught:
        MemberTokenAuthentication().authenticate(_ask(header))
    assert str(caught.value.detail).endswith((".", "”."))


@pytest.mark.parametrize("header", [None, "Basic abc", "Bearer abc"])
def test_other_schemes_are_left_to_others(db, header):
    assert MemberTokenAuthentication().authenticate(_ask(header)) is None


def test_a_token_ends_with_its_member_and_its_person(cast):
    _, key = token_create(member=cast.writer, label="x")
    member_change(member=cast.writer, role=cast.writer.role, active=False)
    with pytest.raises(AuthenticationFailed):
        MemberTokenAuthentication().authenticate(_ask(f"Token {key}"))
    _, key = token_create(member=cast.mechanic, label="x")
    cast.mechanic.user.is_active = False
    cast.mechanic.user.save()
    with pytest.raises(AuthenticationFailed):
        MemberTokenAuthentication().authenticate(_ask(f"Token {key}"))


def test_a_token_stands_for_one_shop_only(cast):
    _, key = token_create(member=cast.both_here, label="x")
    assert member_of(_ask(f"Token {key}")).shop == cast.shop


def test_methods_a_view_does_not_name_are_refused(cast):
    class View(APIView):
        actions = {"GET": Action.SEE_WORK, "POST": Action.TAKE_IN}

    _, key = token_create(member=cast.mechanic, label="x")
    allowed = {
        method: IsMember().has_permission(_ask(f"Token {key}", method), View())
        for method in ("get", "head", "options", "post", "put", "delete")
    }
    assert allowed == {
        "get": True,
        "head": True,
        "options": True,
        "post": False,
        "put": False,
        "delete": False,
    }


def test_a_view_that_names_nothing_lets_nobody_in(cast):
    _, key = token_create(member=cast.owner, label="x")
    assert not IsMember().has_permission(_ask(f"Token {key}"), APIView())


def test_use_is_noted_and_revoking_twice_keeps_the_first_time(cast):
    token, key = token_create(member=cast.owner, label="x")
    assert _ask(f"Token {key}").auth is not None
    token.refresh_from_db()
    assert token.last_used_at is not None
    token_revoke(token=token)
    token.refresh_from_db()
    first = token.revoked_at
    token_revoke(token=token)
    token.refresh_from_db()
    assert token.revoked_at == first


def test_a_label_that_is_too_long_is_refused(cast):
    with pytest.raises(ValidationError):
        token_create(member=cast.owner, label="x" * 81)
