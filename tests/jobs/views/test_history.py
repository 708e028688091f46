"""The board, and finding what was."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.models import Outcome, Visit
from jobs.services.notes import note_add
from jobs.services.triage import codes_add

pytestmark = pytest.mark.every_database

FIND = "jobs:find"


@pytest.fixture
def past(cast, take_in):
    """A closed visit with something to find in every corner, and one with nothing in common."""
    visit = take_in(
        cast.writer,
        name="Örsolya Ängström",
        phone="+49 (30) 555-12 34",
        plate="KX 204-T",
        vin="1G4AH59H45G118341",
        make="Orchard",
        model="Estate",
        words="It judders at the traffic lights",
        odometer=84210,
    )
    codes_add(visit=visit, text="P0304-00 stored", member=cast.diagnostician)
    note_add(visit=visit, text="Smelled of 50% coolant", member=cast.mechanic)
    Outcome.objects.create(
        visit=visit, cause="Burnt exhaust valve", correction="Cylinder head rebuilt"
    )
    take_in(
        cast.writer, name="Nobody Else", plate="ZZ 9", words="Radio", phone="0999", make="Fjord"
    )
    return visit


@pytest.mark.parametrize(
    "box",
    [
        "KX204T",
        "kx 204 t",
        "x-204",
        "1G4AH59H45G118341",
        "118341",
        "g118 341",
        "Ängström",
        "ängström",
        "ÖRSOLYA",
        "orchard",
        "555 1234",
        "4930555",
        "P0304",
        "p 0304",
        "P0304-00",
        "p03",
        "judders",
        "LIGHTS judders",
        "burnt valve",
        "head rebuilt",
        "50% coolant",
        "orchard judders",
    ],
)
def test_one_box_finds_the_visit_whatever_is_remembered(cast, client_for, past, box):
    page = client_for(cast.writer).get(reverse(FIND), {"q": box})
    assert [v.pk for v in page.context["page"]] == [past.pk]
    assert "KX 204-T" in page.content.decode()


@pytest.mark.parametrize("box", ["P0305", "judders radio", "%", "_", "\\", "'", "nothing", "zz 8"])
def test_what_does_not_fit_is_not_found(cast, client_for, past, box):
    page = client_for(cast.writer).get(reverse(FIND), {"q": box})
    found = list(page.context["page"])
    # A percent sign is a character like any other, and one note holds it.
    assert found == ([past] if box == "%" else [])
    assert page.status_code == 200


def test_a_job_number_finds_the_job(cast, client_for, past):
    page = client_for(cast.writer).get(reverse(FIND), {"q": str(past.number)})
    assert past in list(page.context["page"])


@pytest.mark.parametrize("box", ["", "   ", "\x00", "9" * 200, "x" * 500, "a " * 300])
def test_any_box_is_answered(cast, client_for, past, box):
    page = client_for(cast.writer).get(reverse(FIND), {"q": box, "page": "zz"})
    assert page.status_code == 200


def test_a_vehicles_history_stands_on_one_page(cast, client_for, past, take_in):
    second = take_in(
        cast.writer, vehicle=past.vehicle, customer=past.vehicle.customer, words="It is back"
    )
    page = client_for(cast.writer).get(reverse("jobs:vehicle", args=[past.vehicle_id]))
    text = page.content.decode()
    assert [v.pk for v in page.context["visits"]] == [second.pk, past.pk]
    for words in (
        "It judders at the traffic lights",
        "Burnt exhaust valve",
        "Cylinder head rebuilt",
        "It is back",
        "84,210 km",
        "P0304-00",
        "data-print",
    ):
        assert words in text


def test_a_vehicle_of_another_shop_has_no_page(cast, client_for, past):
    url = reverse("jobs:vehicle", args=[past.vehicle_id])
    assert client_for(cast.outsider).get(url).status_code == 404


@pytest.mark.parametrize("page", ["board", "find", "vehicle"])
def test_lists_take_the_same_number_of_queries_with_twice_the_rows(cast, client_for, take_in, page):
    client = client_for(cast.owner)
    first = take_in(cast.writer)
    address = {
        "board": reverse("jobs:board"),
        "find": reverse(FIND),
        "vehicle": reverse("jobs:vehicle", args=[first.vehicle_id]),
    }[page]

    def queries_with_more(n):
        for _ in range(n):
            visit = take_in(cast.writer)
            codes_add(visit=visit, text="P0301 stored", member=cast.owner)
            Visit.objects.filter(pk=visit.pk).update(vehicle=first.vehicle)
        with CaptureQueriesContext(connection) as captured:
            assert client.get(address, {"q": "shakes"}).status_code == 200
        return len(captured)

    few = queries_with_more(4)
    assert few <= 13
    assert queries_with_more(5) == few


def test_the_board_shows_open_jobs_by_stage_and_those_closed_today(cast, client_for, take_in):
    now = timezone.now()
    for plate, stage, closed_at in (
        ("AA 1", "intake", None),
        ("BB 2", "work", None),
        ("CC 3", "closed", now),
        ("DD 4", "closed", now - timedelta(days=2)),
    ):
        visit = take_in(cast.writer, plate=plate)
        Visit.objects.filter(pk=visit.pk).update(stage=stage, closed_at=closed_at)
    page = client_for(cast.writer).get(reverse("jobs:board"))
    text = page.content.decode()
    board = page.context["board"]
    assert (board.open_count, board.closed_today) == (2, 1)
    assert {c.stage.value: len(c.visits) for c in board.columns if c.visits} == {
        "intake": 1,
        "work": 1,
        "closed": 1,
    }
    assert "AA 1" in text
    assert "CC 3" in text
    assert "DD 4" not in text
    assert reverse("jobs:new") in text
    assert (
        reverse("jobs:new")
        not in client_for(cast.mechanic).get(reverse("jobs:board")).content.decode()
    )


def test_the_front_door_leads_to_the_board(cast, client_for):
    response = client_for(cast.mechanic).get("/")
    assert response.status_code == 302
    assert response.url == reverse("jobs:board")
