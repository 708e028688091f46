"""Every page of the job card: strangers, roles and other shops."""

import pytest
from django.urls import reverse

from jobs.models import CodePaste, Photo, Visit
from jobs.services.intake import complaint_change
from jobs.services.triage import CodesAdded, codes_add
from shopdiag.people.core.roles import Role
from tests.conftest import Cast, make_cast
from tests.jobs.conftest import make_four, visit_taken_in
from tests.shared_rows import Kept, kept_rows

Made = tuple[Cast, Visit, CodesAdded, Photo]

EVERYONE = set(Role)
TAKE_IN = {Role.OWNER, Role.DIAGNOSTICIAN, Role.WRITER}
TRIAGE = {Role.OWNER, Role.DIAGNOSTICIAN}
WORKS = {Role.OWNER, Role.DIAGNOSTICIAN, Role.MECHANIC}

# name, who may, whether the address holds a visit
PAGES = [
    ("jobs:board", EVERYONE),
    ("jobs:new", TAKE_IN),
    ("jobs:intake-search", TAKE_IN),
    ("jobs:intake-who", TAKE_IN),
    ("jobs:vin-check", TAKE_IN),
    ("jobs:find", EVERYONE),
    ("jobs:visit", EVERYONE),
    ("jobs:job-report", EVERYONE),
    ("jobs:plan", EVERYONE),
    ("jobs:job-report-pdf", EVERYONE),
    ("jobs:visit-edit", TAKE_IN),
    ("jobs:complaint-edit", TAKE_IN),
    ("jobs:customer-edit", TAKE_IN),
    ("jobs:vehicle-edit", TAKE_IN),
    ("jobs:triage-edit", TRIAGE),
    ("jobs:codes-add", TRIAGE),
    ("jobs:codes-read", EVERYONE),
    ("jobs:freeze-frame-add", TRIAGE),
    ("jobs:misfires-set", TRIAGE),
    ("jobs:numbering", WORKS),
    ("jobs:note-add", EVERYONE),
    ("jobs:used-add", WORKS),
    ("jobs:photo-add", EVERYONE),
    ("jobs:photo", EVERYONE),
    # the writer added it
    ("jobs:photo-remove", {Role.OWNER, Role.WRITER}),
    ("jobs:vehicle", TAKE_IN),
    ("jobs:week", {Role.OWNER, Role.WRITER}),
    ("jobs:weeks-csv", {Role.OWNER, Role.WRITER}),
    ("jobs:waiting-csv", {Role.OWNER, Role.WRITER}),
    ("jobs:learning", TRIAGE),
    ("jobs:learning-calls-csv", TRIAGE),
    ("jobs:learning-causes-csv", TRIAGE),
]
POSTS = [("jobs:move", TAKE_IN), ("jobs:code-remove", TRIAGE)]
SHOPLESS = {
    "jobs:board",
    "jobs:new",
    "jobs:intake-search",
    "jobs:intake-who",
    "jobs:vin-check",
    "jobs:find",
    "jobs:week",
    "jobs:weeks-csv",
    "jobs:learning",
    "jobs:learning-calls-csv",
    "jobs:learning-causes-csv",
    "jobs:waiting-csv",
}


def _make() -> Made:
    """Make a visit that has something of everything."""
    cast = make_cast()
    visit = visit_taken_in(cast.writer, engine=make_four(cast))
    added = codes_add(visit=visit, text="P0301 stored", member=cast.diagnostician)
    photo = Photo(visit=visit, by=cast.writer)
    photo.image.name = "photos/nowhere.jpg"
    photo.save()
    return cast, visit, added, photo


kept = kept_rows(_make)


@pytest.fixture
def taken(db: None, kept: Kept[Made], tmp_path) -> Made:
    return kept.taken(tmp_path)


@pytest.fixture
def cast(taken: Made) -> Cast:
    return taken[0]


@pytest.fixture
def visit(taken: Made) -> Visit:
    return taken[1]


@pytest.fixture
def address(taken: Made):
    """Return the address of a page of a visit that has something of everything."""
    _, visit, added, photo = taken

    def of(name):
        if name in SHOPLESS:
            return reverse(name)
        if name == "jobs:vehicle":
            return reverse(name, args=[visit.vehicle_id])
        if name in {"jobs:photo", "jobs:photo-remove"}:
            return reverse(name, args=[photo.pk])
        if name == "jobs:codes-read":
            return reverse(name, args=[visit.pk, added.paste.pk])
        if name == "jobs:code-remove":
            return reverse(name, args=[visit.pk, added.added[0].pk])
        return reverse(name, args=[visit.pk])

    return of


def test_the_list_names_every_page_of_this_part():
    from jobs.urls import _VISIT  # noqa: PLC0415

    assert {f"jobs:{p.name}" for p in _VISIT} == {name for name, _ in PAGES + POSTS}


@pytest.mark.parametrize("name", [name for name, _ in PAGES])
def test_strangers_are_asked_to_sign_in(client, address, name):
    response = client.get(address(name))
    assert response.status_code == 302
    assert response.url.startswith(reverse("people:sign-in"))


@pytest.mark.parametrize(("name", "allowed"), PAGES)
def test_roles(cast, client_for, address, name, allowed):
    for role, member in cast.insiders.items():
        response = client_for(member).get(address(name))
        # The photo of this fixture has no file, so whoever may see it is told so.
        right = 404 if name == "jobs:photo" else 200
        assert response.status_code == (right if role in allowed else 403), role


@pytest.mark.parametrize(("name", "allowed"), POSTS)
def test_roles_that_change_something(cast, client_for, address, name, allowed):
    for role, member in cast.insiders.items():
        response = client_for(member).post(address(name), {"to": "triage"})
        assert response.status_code == (302 if role in allowed else 403), role
        assert client_for(member).get(address(name)).status_code in {403, 405}


@pytest.mark.parametrize(
    ("name", "method"),
    [(n, "get") for n, _ in PAGES if n not in SHOPLESS]
    + [
        (n, "post")
        for n, _ in PAGES
        if n not in SHOPLESS and n.endswith(("edit", "add", "set", "remove"))
    ]
    + [(n, "post") for n, _ in POSTS],
)
def test_another_shop_sees_nothing(cast, client_for, address, name, method):
    before = CodePaste.objects.count()
    for member in (cast.outsider, cast.other_owner):
        response = getattr(client_for(member), method)(
            address(name), {"to": "triage", "text": "P0302", "version": 1}
        )
        assert response.status_code == 404
    assert CodePaste.objects.count() == before
    assert set(Visit.objects.values_list("stage", flat=True)) == {"triage"}


def test_lists_show_the_own_shop_only(cast, client_for, visit, their_visit):
    for member, mine, theirs in (
        (cast.writer, visit, their_visit),
        (cast.outsider, their_visit, visit),
    ):
        client = client_for(member)
        for page in (
            client.get(reverse("jobs:board")),
            client.get(reverse("jobs:find"), {"q": "shakes"}),
            client.get(reverse("jobs:intake-search"), {"q": "Somebody"}),
            client.get(reverse("jobs:intake-search"), {"q": "Casey"}),
        ):
            assert theirs.vehicle.plate not in page.content.decode()
        assert mine.vehicle.plate in client.get(reverse("jobs:board")).content.decode()


def test_a_person_of_two_shops_sees_the_one_he_works_in(cast, client_for, visit, their_visit):
    here = client_for(cast.both_here).get(reverse("jobs:board")).content.decode()
    there = client_for(cast.both_there).get(reverse("jobs:board")).content.decode()
    assert visit.vehicle.plate in here
    assert their_visit.vehicle.plate not in here
    assert their_visit.vehicle.plate in there
    assert visit.vehicle.plate not in there


def test_a_mechanic_does_not_see_who_the_customer_is(cast, client_for, visit):
    customer, complaint = visit.vehicle.customer, visit.complaint
    complaint.authorised_by, complaint.authorised_minutes = customer.name, 60
    complaint_change(complaint=complaint, expected_version=1, member=cast.writer)
    for name in ("jobs:board", "jobs:visit"):
        url = reverse(name, args=[visit.pk] if name == "jobs:visit" else [])
        hidden = client_for(cast.mechanic).get(url).content.decode()
        assert customer.name not in hidden
        assert customer.phone not in hidden
        assert customer.name in client_for(cast.writer).get(url).content.decode()


def test_vehicles_and_customers_of_another_shop_cannot_be_chosen(cast, client_for, their_visit):
    page = client_for(cast.writer).get(
        reverse("jobs:new"),
        {"vehicle": their_visit.vehicle_id, "customer": their_visit.vehicle.customer_id},
    )
    assert "Somebody Elsewhere" not in page.content.decode()
