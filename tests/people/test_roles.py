"""Who does what, written out once more, and each page of people tried by every role."""

import pytest
from django.test import Client
from django.urls import reverse

from shopdiag.people.core.roles import ALLOWED, Action, Role, may
from shopdiag.people.models import Member
from tests.wording import says

D, M, W, O = Role.DIAGNOSTICIAN, Role.MECHANIC, Role.WRITER, Role.OWNER  # noqa: E741
# From the job's description: intake and delivery by the service writer, everything from
# triage to verification by the diagnostician, the work order by the mechanic, people and
# settings by the owner, who may also stand in for each of them.
MATRIX = {
    Action.SEE_WORK: {D, M, W, O},
    Action.SEE_CONTACT: {D, W, O},
    Action.SEARCH: {D, W, O},
    Action.TAKE_IN: {D, W, O},
    Action.TRIAGE: {D, O},
    Action.CAPTURE: {D, O},
    Action.JUDGE: {D, O},
    Action.ORDER_WORK: {D, O},
    Action.DO_WORK: {D, M, O},
    Action.VERIFY: {D, O},
    Action.HAND_BACK: {D, W, O},
    Action.SEE_WEEK: {W, O},
    Action.SEE_LEARNING: {D, O},
    Action.ADD_NOTE: {D, M, W, O},
    Action.PRACTISE: {D, M, W, O},
    Action.SET_PRACTICE: {D, O},
    Action.KEEP_ENGINES: {D, O},
    Action.KEEP_SHOP: {O},
}


def test_the_matrix_is_complete():
    assert set(MATRIX) == set(Action)
    assert set(ALLOWED) == set(Role)


@pytest.mark.parametrize("action", list(Action))
def test_each_action_is_done_by_these_roles(action):
    assert {role for role in Role if may(role, action)} == MATRIX[action]


@pytest.mark.django_db
def test_somebody_who_left_may_nothing():
    gone = Member(role=Role.OWNER, active=False)
    assert not any(gone.may(action) for action in Action)


OWNERS_PAGES = ["people:team", "people:invitations", "people:member-add", "people:shop"]
OWNERS_MEMBER_PAGES = ["people:member", "people:member-password"]
EVERYBODYS_PAGES = [
    "people:tokens",
    "people:shops",
    "people:password",
    "people:language",
    "people:email",
]


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize(
    ("name", "method"),
    [(name, "get") for name in OWNERS_PAGES]
    + [("people:member-add", "post"), ("people:shop", "post")],
)
def test_only_owners_keep_the_shop(cast, client_for, role, name, method):
    answer = getattr(client_for(cast.insiders[role]), method)(reverse(name))
    if role is Role.OWNER:
        assert answer.status_code == (200 if method == "get" else 422)
    else:
        assert answer.status_code == 403
        assert says(answer.content.decode(), "forbidden.you-role-does-not")


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize("name", OWNERS_MEMBER_PAGES)
def test_only_owners_change_members(cast, client_for, role, name):
    client = client_for(cast.insiders[role])
    address = reverse(name, args=[cast.writer.pk])
    assert client.get(address).status_code == (200 if role is Role.OWNER else 403)
    given = {"role": "owner", "active": "on", "password": "a-b-c-1-2-3"}
    if role is not Role.OWNER:
        assert client.post(address, given).status_code == 403
        cast.writer.refresh_from_db()
        assert cast.writer.role == Role.WRITER


@pytest.mark.parametrize("name", OWNERS_MEMBER_PAGES)
@pytest.mark.parametrize("method", ["get", "post"])
def test_another_shops_owner_finds_nobody(cast, client_for, name, method):
    address = reverse(name, args=[cast.writer.pk])
    given = {"role": "mechanic", "password": "a-b-c-1-2-3", "password_again": "a-b-c-1-2-3"}
    answer = getattr(client_for(cast.other_owner), method)(address, given)
    assert answer.status_code == 404
    cast.writer.refresh_from_db()
    assert (cast.writer.role, cast.writer.active) == (Role.WRITER, True)


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize("name", EVERYBODYS_PAGES)
def test_everybody_has_his_own_pages(cast, client_for, role, name):
    assert client_for(cast.insiders[role]).get(reverse(name)).status_code == 200


@pytest.mark.parametrize("name", OWNERS_PAGES + EVERYBODYS_PAGES)
def test_strangers_are_sent_to_sign_in(cast, name):
    answer = Client().get(reverse(name))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("people:sign-in"))
