"""Finding a job by what is said on the phone: what is found, in which order, and by whom."""

from operator import attrgetter

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.core.search import Match, query_read
from jobs.core.stages import Stage
from jobs.models import Visit
from jobs.selectors import found_jobs
from jobs.selectors.found_jobs import visits_found
from jobs.services.triage import codes_add

pytestmark = pytest.mark.every_database

FIND = "jobs:find"


@pytest.fixture
def calloway(cast, take_in):
    """A job with all that is said on the phone, among jobs that have nothing of it."""
    for n in range(3):
        take_in(cast.writer, plate=f"ZZ {n}", name=f"Nobody Else {n}", phone=f"0777 00{n}")
    visit = take_in(
        cast.writer,
        name="Ines Calloway",
        phone="+49 (30) 555-12 34",
        plate="KD TL 204",
        vin="1G4AH59H45G118341",
        words="It judders.",
    )
    codes_add(visit=visit, text="P0304 stored", member=cast.diagnostician)
    return visit


def matches(member, box):
    """Return the numbers of the jobs found with how each was found, in their order."""
    rank = attrgetter("rank")
    found = visits_found(member, query_read(box))
    return [(v.number, Match(min(rank(v), Match.NAME_ALIKE))) for v in found]


@pytest.mark.parametrize(
    ("box", "match"),
    [
        ("job 4", Match.NUMBER),
        ("trabajo 4", Match.NUMBER),
        ("#4", Match.NUMBER),
        ("kd-tl 204", Match.PLATE),
        ("204 TL KD", Match.PLATE_REORDERED),
        ("tl204kd", Match.PLATE_REORDERED),
        ("tlkd204", Match.PLATE_REORDERED),
        ("kd tl", Match.PLATE_BEGIN),
        ("tl 204", Match.PLATE_PART),
        ("204 kd", Match.PLATE_PART),
        ("1g4ah59h45g118341", Match.VIN),
        ("118341", Match.VIN_END),
        ("118 341", Match.VIN_END),
        ("G11834", Match.VIN_PART),
        ("+49 30 5551234", Match.PHONE),
        ("030/555 12 34", Match.PHONE),
        ("55512", Match.PHONE_PART),
        ("calloway", Match.NAME),
        ("p0304", Match.CODE),
        ("judders", Match.WORDS),
        ("calloway judders", Match.WORDS),
        ("Caloway", Match.NAME_ALIKE),
        ("Calolway", Match.NAME_ALIKE),
        ("inez kalloway", Match.NAME_ALIKE),
        ("cállowäy", Match.NAME_ALIKE),
    ],
)
def test_each_way_of_saying_it_finds_the_job_and_tells_how(cast, calloway, box, match):
    assert matches(cast.writer, box) == [(calloway.number, match)]


@pytest.mark.parametrize("box", ["204 TL KX", "#99999", "job", "Cal oway 3", "Marlowe"])
def test_what_is_like_nothing_on_file_is_not_found(cast, calloway, box):
    assert matches(cast.writer, box) == []


def test_surer_matches_come_first_then_newer_jobs(cast, take_in):
    names = ["Halloway", "Nobody", "Calloway", "Colloway-Caloway", "Calloway"]
    # Numbers of their own: those that are counted up hold 204 at some time.
    jobs = [
        take_in(cast.writer, name=name, plate=f"ZZ {n}", phone=f"0777 00{n}").number
        for n, name in enumerate(names)
    ]
    assert matches(cast.writer, "Calloway") == [
        (jobs[4], Match.NAME),
        (jobs[2], Match.NAME),
        (jobs[3], Match.NAME_ALIKE),
        (jobs[0], Match.NAME_ALIKE),
    ]
    four = take_in(cast.writer, plate="A 2", phone="0204 11", words="Since 204 km")
    plate = take_in(cast.writer, plate="204")
    part = take_in(cast.writer, plate="QX 204")
    assert matches(cast.writer, "204") == [
        (plate.number, Match.PLATE),
        (part.number, Match.PLATE_PART),
        (four.number, Match.PHONE_PART),
    ]


def test_names_alike_are_sought_among_the_newest_customers(cast, take_in, monkeypatch):
    old = take_in(cast.writer, name="Calloway")
    new = take_in(cast.writer, name="Galloway")
    assert [n for n, _ in matches(cast.writer, "Caloway")] == [old.number, new.number]
    monkeypatch.setattr(found_jobs, "MAX_COMPARED", 1)
    assert [n for n, _ in matches(cast.writer, "Caloway")] == [new.number]


@pytest.mark.parametrize(
    "box", ["Calloway", "Caloway", "ines", "555 12 34", "0305551234", "calloway judders"]
)
def test_a_mechanic_finds_nobody_by_name_or_phone(cast, client_for, calloway, box):
    page = client_for(cast.mechanic).get(reverse(FIND), {"q": box})
    assert page.status_code == 200
    assert list(page.context["page"]) == []


@pytest.mark.parametrize("box", ["204 TL KD", "118341", "#4", "P0304", "judders"])
def test_a_mechanic_finds_open_jobs_without_whose_they_are(cast, client_for, calloway, box):
    client = client_for(cast.mechanic)
    page = client.get(reverse(FIND), {"q": box})
    assert [v.pk for v in page.context["page"]] == [calloway.pk]
    text = page.content.decode()
    assert "Calloway" not in text
    assert "555-12" not in text
    assert reverse("jobs:vehicle", args=[calloway.vehicle_id]) not in text
    Visit.objects.filter(pk=calloway.pk).update(stage=Stage.CLOSED)
    assert list(client.get(reverse(FIND), {"q": box}).context["page"]) == []
    assert matches(cast.writer, box)[0][0] == calloway.number


def test_find_is_in_the_menu_of_every_role(cast, client_for):
    for member in (cast.mechanic, cast.writer, cast.diagnostician, cast.owner):
        page = client_for(member).get(reverse("jobs:board")).content.decode()
        assert f'href="{reverse(FIND)}"' in page


@pytest.mark.parametrize("box", ["204 TL KD", "#4", "118341", "5551234", "Caloway", "P0304"])
def test_another_shop_finds_nothing_of_it(cast, calloway, box):
    assert calloway.pk not in {v.pk for v in visits_found(cast.outsider, query_read(box))}


def test_a_search_takes_as_many_queries_with_more_customers(cast, client_for, calloway, take_in):
    client = client_for(cast.owner)

    def queries(box):
        with CaptureQueriesContext(connection) as captured:
            assert client.get(reverse(FIND), {"q": box}).status_code == 200
        return len(captured)

    few = {box: queries(box) for box in ("Caloway", "204 TL KD")}
    for n in range(12):
        take_in(cast.writer, name=f"Calloway {'abcdefghijkl'[n]}", plate=f"TL {n} KD")
    assert {box: queries(box) for box in few} == few
    # Names alike are one query more; a box with digits is not compared to names.
    assert few["Caloway"] == few["204 TL KD"] + 1
    assert few["Caloway"] <= 9


def test_typing_on_after_the_session_ended_leads_to_the_sign_in_page(client):
    address = reverse(FIND)
    headers = {"HX-Request": "true", "HX-Current-URL": f"http://testserver{address}"}
    answer = client.get(address, {"q": "204"}, headers=headers)
    assert answer.headers["HX-Redirect"] == (
        f"{reverse('people:sign-in')}?next={address}%3Fq%3D204"
    )
