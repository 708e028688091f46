"""An owner keeps the team: joins, roles, leavers, forgotten passwords."""

import threading

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.urls import reverse

from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member, Shop, User
from shopdiag.people.services import member_add, member_change, shop_open
from tests.conftest import PASSWORD
from tests.people.forms import fields_of
from tests.wording import says

TEAM = reverse("people:team")
ADD = reverse("people:member-add")
NEW = {
    "username": "nico",
    "name": "Nico New",
    "role": "mechanic",
    "password": "feeler-gauge-08",
    "password_again": "feeler-gauge-08",
}


def _page(member: Member) -> str:
    return reverse("people:member", args=[member.pk])


def test_the_list_shows_this_shops_people_only(cast, client_for):
    page = client_for(cast.owner).get(TEAM).content.decode()
    assert "Dana Diag" in page
    assert "Bo Bothways" in page
    assert "Otis Outside" not in page


def test_the_list_asks_the_database_as_often_for_many_as_for_few(
    cast, client_for, django_assert_num_queries, django_assert_max_num_queries
):
    client = client_for(cast.owner)
    with django_assert_max_num_queries(8) as few:
        client.get(TEAM)
    for n in range(10):
        member_add(
            shop=cast.shop, name=f"P {n}", username=f"p{n}", role="mechanic", password="x-9-y-z-1"
        )
    with django_assert_num_queries(len(few)):
        client.get(TEAM)


def test_a_new_person_can_sign_in_and_work(cast, client_for):
    assert client_for(cast.owner).post(ADD, NEW)["Location"] == TEAM
    added = Member.objects.get(user__username="nico")
    assert (added.shop, added.role, added.name) == (cast.shop, Role.MECHANIC, "Nico New")
    client = Client()
    client.post(reverse("people:sign-in"), {"username": "nico", "password": NEW["password"]})
    assert client.get(reverse("people:tokens")).context["member"] == added


def test_a_person_of_another_shop_joins_under_his_own_name_and_password(cast, client_for):
    answer = client_for(cast.owner).post(ADD, {"username": "outsider", "role": "writer"})
    assert answer["Location"] == TEAM
    user = User.objects.get(username="outsider")
    assert user.check_password(PASSWORD)
    assert user.name == "Otis Outside"
    assert user.memberships.count() == 2


@pytest.mark.parametrize("left_out", [(), ("name",), ("password", "password_again")])
def test_a_newcomer_is_never_taken_for_somebody_who_has_the_name(cast, client_for, left_out):
    """Else whoever took a name in another shop, with a password he knows, would be let in here."""
    sent = {k: v for k, v in (NEW | {"username": "outsider"}).items() if k not in left_out}
    answer = client_for(cast.owner).post(ADD, sent)
    assert answer.status_code == 422
    assert says(answer.content.decode(), "people-forms.somebody-server-signs-name")
    user = User.objects.get(username="outsider")
    assert user.check_password(PASSWORD)
    assert user.memberships.get().shop == cast.other_shop


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"username": "mech"}, "This person is already in the shop; change the role in the list."),
        ({"name": ""}, "A new person needs a name."),
        ({"password": "", "password_again": ""}, "A new person needs a first password."),
        ({"password_again": "x"}, "The two passwords differ; type both once more."),
        ({"password": "Nico New 1", "password_again": "Nico New 1"}, "too similar to the name"),
        ({"role": "emperor"}, "is not in it"),
        ({"role": ""}, "Fill this in."),
    ],
)
def test_mistakes_when_adding_are_told(cast, client_for, change, sentence):
    before = Member.objects.count()
    answer = client_for(cast.owner).post(ADD, NEW | change)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert Member.objects.count() == before


def test_role_and_leaving_take_effect_at_the_next_click(cast, client_for):
    mechanic = client_for(cast.mechanic)
    owner = client_for(cast.owner)
    assert mechanic.get(TEAM).status_code == 403
    owner.post(_page(cast.mechanic), {"version": 1, "role": "owner", "active": "on"})
    assert mechanic.get(TEAM).status_code == 200
    owner.post(_page(cast.mechanic), {"version": 2, "role": "owner"})
    assert mechanic.get(TEAM)["Location"] == reverse("people:shops")


@pytest.mark.parametrize("change", [{"role": "writer", "active": "on"}, {"role": "owner"}])
def test_the_last_owner_stays(cast, client_for, change):
    answer = client_for(cast.owner).post(_page(cast.owner), {"version": 1} | change)
    assert answer.status_code == 422
    assert "last active owner" in answer.content.decode()
    cast.owner.refresh_from_db()
    assert (cast.owner.role, cast.owner.active) == (Role.OWNER, True)


def test_an_owner_may_step_down_when_there_is_another(cast, client_for):
    member_change(
        member=cast.writer,
        role=Role.OWNER,
        active=True,
        by=cast.owner,
        expected_version=cast.writer.version,
    )
    answer = client_for(cast.owner).post(
        _page(cast.owner), {"version": 1, "role": "writer", "active": "on"}
    )
    assert answer["Location"] == reverse("home")
    cast.owner.refresh_from_db()
    assert cast.owner.role == Role.WRITER


@pytest.mark.django_db(transaction=True)
def test_of_two_owners_who_step_down_at_once_one_stays():
    first = shop_open(shop_name="S", owner_name="A", username="a", password="x-9-y-z-1")
    second = member_add(
        shop=first.shop, name="B", username="b", role=Role.OWNER, password="x-9-y-z-1"
    )
    start = threading.Barrier(2)
    refused: list[str] = []

    def step_down(member: Member) -> None:
        start.wait(timeout=10)
        try:
            member_change(
                member=member,
                role=Role.WRITER,
                active=True,
                by=member,
                expected_version=member.version,
            )
        except ValidationError as error:
            refused.extend(error.messages)
        finally:
            connection.close()

    both = [threading.Thread(target=step_down, args=(m,)) for m in (first, second)]
    for thread in both:
        thread.start()
    for thread in both:
        thread.join(timeout=30)
    assert len(refused) == 1
    assert Member.objects.filter(shop=Shop.objects.get(), role=Role.OWNER).count() == 1


def test_a_forgotten_password_is_replaced_by_the_owner(cast, client_for):
    old_session = client_for(cast.mechanic)
    address = reverse("people:member-password", args=[cast.mechanic.pk])
    new = {"password": "feeler-gauge-08", "password_again": "feeler-gauge-08"}
    assert client_for(cast.owner).post(address, new)["Location"] == TEAM
    assert User.objects.get(username="mech").check_password("feeler-gauge-08")
    assert old_session.get(reverse("people:tokens")).status_code == 302


def test_an_owner_cannot_take_over_somebody_who_works_elsewhere_too(cast, client_for):
    address = reverse("people:member-password", args=[cast.both_here.pk])
    new = {"password": "feeler-gauge-08", "password_again": "feeler-gauge-08"}
    answer = client_for(cast.owner).post(address, new)
    assert answer.status_code == 422
    assert says(answer.content.decode(), "people-services.also-signs-elsewhere-server")
    assert User.objects.get(username="both").check_password(PASSWORD)


def test_a_name_with_markup_stays_text(cast, client_for):
    client = client_for(cast.owner)
    client.post(ADD, NEW | {"name": "<b>Nico</b>"})
    page = client.get(TEAM).content.decode()
    assert "&lt;b&gt;Nico&lt;/b&gt;" in page
    assert "<b>Nico</b>" not in page


def test_a_page_that_was_open_too_long_brings_nobody_back(cast, client_for):
    """Two owners: one notes that the mechanic left, the other meant to change his role only."""
    second = member_add(
        shop=cast.shop, name="Ora", username="ora", role="owner", password="x-9-y-z-1"
    )
    one, other = client_for(cast.owner), client_for(second)
    stale = fields_of(other.get(_page(cast.mechanic)))
    left = fields_of(one.get(_page(cast.mechanic)))
    del left["active"]
    assert one.post(_page(cast.mechanic), left).status_code == 302
    told = other.post(_page(cast.mechanic), stale | {"role": "writer"})
    assert told.status_code == 409
    assert "Olive Owner" in told.content.decode()
    cast.mechanic.refresh_from_db()
    assert (cast.mechanic.role, cast.mechanic.active) == (Role.MECHANIC, False)
    # What the second had not touched is now as the first left it; the role is his to save.
    assert other.post(_page(cast.mechanic), fields_of(told)).status_code == 302
    cast.mechanic.refresh_from_db()
    assert (cast.mechanic.role, cast.mechanic.active) == (Role.WRITER, False)
    assert cast.mechanic.changed_by == second
