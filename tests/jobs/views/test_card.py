"""The job card, stage moves, and two people saving the same record."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.core.complaint import HAPPENS
from jobs.models import Complaint, Customer, Triage, Vehicle
from jobs.services.triage import codes_add, freeze_frame_add, misfires_set
from shopdiag.people.models import Shop
from tests.wording import says, says_only


def fields_of(page):
    """Return what a browser would send from the page's form without a change."""
    form = page.context["form"]
    values = {}
    for bound in form:
        value = bound.value()
        if value is True:
            values[bound.html_name] = "on"
        elif value is not None and value is not False:
            values[bound.html_name] = value
    return values


def at(name, visit):
    return reverse(f"jobs:{name}", args=[visit.pk])


EDITS = [
    # page, field, mine, theirs, another field, its value
    ("complaint-edit", "words", "It stalls.", "It knocks.", "recent_work", "New belt"),
    ("customer-edit", "name", "Casey C.", "C. Customer", "phone", "030 99"),
    ("vehicle-edit", "make", "Orchards", "Orchid", "engine_code", "OE 21"),
    ("triage-edit", "remarks", "By ear uneven", "Knocks", "battery_v", "12.6"),
]


def times_in(page):
    """Return the offsets from UTC that the page's times are told in."""
    return set(re.findall(r'<time datetime="[^"]+([+-]\d\d:\d\d)"', page))


def record(name):
    model = {
        "complaint-edit": Complaint,
        "customer-edit": Customer,
        "vehicle-edit": Vehicle,
        "triage-edit": Triage,
    }[name]
    return model._default_manager.get()


@pytest.mark.parametrize("edit", EDITS, ids=lambda edit: edit[0])
def test_the_second_to_save_is_told_and_loses_nothing(cast, client_for, visit, edit):
    name, field, mine, theirs, other, other_value = edit
    me, they = client_for(cast.diagnostician), client_for(cast.owner)
    my_form = fields_of(me.get(at(name, visit)))
    their_form = fields_of(they.get(at(name, visit)))
    assert (
        they.post(at(name, visit), their_form | {field: theirs, other: other_value}).status_code
        == 302
    )

    told = me.post(at(name, visit), my_form | {field: mine})
    page = told.content.decode()
    assert told.status_code == 409
    assert "Olive Owner" in page
    (difference,) = told.context["conflict"].differences
    assert (difference.name, difference.theirs, difference.yours) == (field, theirs, mine)
    assert theirs in page
    assert mine in page
    assert getattr(record(name), field) == theirs

    # What I had not touched is theirs now, what I typed is mine, and saving goes on top.
    again = fields_of(told)
    assert again[field] == mine
    assert me.post(at(name, visit), again).status_code == 302
    row = record(name)
    assert getattr(row, field) == mine
    assert str(getattr(row, other)) == other_value
    assert row.version == 3


def test_the_odometer_has_the_same_guard(cast, client_for, visit):
    me, they = client_for(cast.writer), client_for(cast.owner)
    my_form = fields_of(me.get(at("visit-edit", visit)))
    they.post(
        at("visit-edit", visit), fields_of(they.get(at("visit-edit", visit))) | {"odometer": "100"}
    )
    told = me.post(at("visit-edit", visit), my_form | {"odometer": "200"})
    assert told.status_code == 409
    (difference,) = told.context["conflict"].differences
    assert (difference.theirs, difference.yours) == ("100", "200")
    assert me.post(at("visit-edit", visit), fields_of(told)).status_code == 302
    visit.refresh_from_db()
    assert visit.odometer == 200


def test_choices_are_shown_in_words(cast, client_for, visit):
    me, they = client_for(cast.diagnostician), client_for(cast.owner)
    my_form = fields_of(me.get(at("triage-edit", visit)))
    they.post(at("triage-edit", visit), {"version": 1, "cranks": "even", "verified": ""})
    told = me.post(at("triage-edit", visit), my_form | {"cranks": "uneven"})
    (difference,) = told.context["conflict"].differences
    assert (difference.theirs, difference.yours) == ("Even", "Uneven")
    me_again = client_for(cast.diagnostician)
    complaint = fields_of(me_again.get(at("complaint-edit", visit)))
    they.post(
        at("complaint-edit", visit),
        fields_of(they.get(at("complaint-edit", visit))) | {"happens": ["cold", "idle"]},
    )
    told = me_again.post(at("complaint-edit", visit), complaint | {"happens": ["warm"]})
    (difference,) = told.context["conflict"].differences
    cold, idle, warm = (HAPPENS[key] for key in ("cold", "idle", "warm"))
    assert (difference.theirs, difference.yours) == (f"{cold}, {idle}", warm)
    assert fields_of(told)["happens"] == ["warm"]


def test_the_same_form_sent_twice_is_no_conflict(cast, client_for, visit):
    client = client_for(cast.writer)
    sent = fields_of(client.get(at("complaint-edit", visit))) | {"words": "It stalls."}
    assert client.post(at("complaint-edit", visit), sent).status_code == 302
    assert client.post(at("complaint-edit", visit), sent).status_code == 302
    assert Complaint.objects.get().version == 2
    assert [e.kind for e in visit.events.all()].count("complaint") == 1


@pytest.mark.parametrize("opened", ["", "{", "[]", "null", '{"words": ["x"]}', "7"])
def test_a_form_that_lost_what_was_opened_still_keeps_both_sides(cast, client_for, visit, opened):
    me, they = client_for(cast.writer), client_for(cast.owner)
    form = fields_of(me.get(at("complaint-edit", visit))) | {"opened": opened}
    they.post(at("complaint-edit", visit), {"version": 1, "words": "theirs"})
    told = me.post(at("complaint-edit", visit), form | {"words": "mine"})
    assert told.status_code == 409
    assert [d.name for d in told.context["conflict"].differences] == ["words"]
    assert fields_of(told)["words"] == "mine"


@pytest.mark.parametrize("version", ["", "0", "-1", "x", "2.5"])
def test_a_broken_version_is_refused_and_keeps_the_text(cast, client_for, visit, version):
    page = client_for(cast.writer).post(
        at("complaint-edit", visit), {"version": version, "words": "typed so far"}
    )
    assert page.status_code == 422
    assert "typed so far" in page.content.decode()


def test_what_changed_is_in_the_timeline_without_personal_details(cast, client_for, visit):
    client = client_for(cast.writer)
    for name, change in (
        ("customer-edit", {"phone": "0170 1234567"}),
        ("vehicle-edit", {"engine_code": "OE 21"}),
        ("complaint-edit", {"recent_work": "New belt"}),
    ):
        client.post(at(name, visit), fields_of(client.get(at(name, visit))) | change)
    told = {e.kind: e for e in visit.events.all()}
    assert told["customer"].data["fields"] == ["phone", "phone_key"]
    assert "1234567" not in str(told["customer"].data)
    assert told["vehicle"].data["fields"] == ["engine_code"]
    assert told["vehicle"].data["values"] == {"engine_code": ["", "OE 21"]}
    assert told["complaint"].data["fields"] == ["recent_work"]
    page = client.get(at("visit", visit)).content.decode()
    assert told["complaint"].words in page


def test_a_new_authorisation_has_a_line_of_its_own(cast, client_for, visit):
    client = client_for(cast.writer)
    client.post(
        at("complaint-edit", visit),
        fields_of(client.get(at("complaint-edit", visit)))
        | {"authorised_minutes": 90, "authorised_by": "Casey", "authorised_how": "phone"},
    )
    line = visit.events.last().words
    assert says_only(
        line,
        "intake.noted-authorised",
        authorised_by="Casey",
        what="90 minutes",
        said=" (by phone)",
    )


def test_stage_moves_follow_the_rules_and_say_why_not(cast, client_for, visit):
    client = client_for(cast.diagnostician)
    client.post(at("move", visit), {"to": "triage", "reason": "Taken in."})
    visit.refresh_from_db()
    assert visit.stage == "triage"
    page = client.post(at("move", visit), {"to": "test"}, follow=True).content.decode()
    assert says(page, "stages.note-cranking-sound-first")
    page = client.post(at("move", visit), {"to": "closed"}, follow=True).content.decode()
    assert says(page, "stages.visit-does-not-go", here="Triage", there="Closed")
    visit.refresh_from_db()
    assert visit.stage == "triage"
    client.post(at("triage-edit", visit), {"version": 1, "cranks": "uneven"})
    client.post(at("move", visit), {"to": "test", "reason": "Heard."})
    client.post(at("move", visit), {"to": "triage"})
    visit.refresh_from_db()
    assert visit.stage == "test"
    client.post(at("move", visit), {"to": "triage", "reason": "Listen again."})
    visit.refresh_from_db()
    assert visit.stage == "triage"
    moves = [e for e in visit.events.all() if e.kind == "stage"]
    assert [(e.data["from"], e.data["to"], e.data["reason"]) for e in moves] == [
        ("intake", "triage", "Taken in."),
        ("triage", "test", "Heard."),
        ("test", "triage", "Listen again."),
    ]
    assert moves[2].words.endswith(": Listen again.")


def test_a_writer_does_not_decide_and_a_stage_that_is_none_is_not_found(cast, client_for, visit):
    client = client_for(cast.writer)
    assert client.post(at("move", visit), {"to": "decide"}).status_code == 403
    assert client.post(at("move", visit), {"to": "moon"}).status_code == 404
    assert client.post(at("move", visit)).status_code == 404


def test_the_card_shows_everything_and_offers_what_the_role_does(cast, client_for, visit):
    codes_add(visit=visit, text="P0301 stored\nP03O2", member=cast.diagnostician)
    freeze_frame_add(visit=visit, text="Engine speed 812 rpm", code="P0301", member=cast.owner)
    misfires_set(visit=visit, counts={1: 143, 2: 0}, period="ten cycles", member=cast.owner)
    page = client_for(cast.diagnostician).get(at("visit", visit)).content.decode()
    for words in (
        "It shakes at the lights.",
        "Misfire on cylinder 1",
        "Freeze frame P0301",
        "812",
        "143",
        "ten cycles",
        "1-3-4-2",
        "added codes: P0301 (stored); 1 that only looked like codes",
        "not yet: Note the cranking sound first.",
    ):
        assert words in page
    mechanic = client_for(cast.mechanic).get(at("visit", visit)).content.decode()
    assert says(mechanic, "code_meaning.misfire-cylinder", cylinder=1)
    for name in ("complaint-edit", "triage-edit", "codes-add", "customer-edit", "move"):
        assert f'="{at(name, visit)}"' in page
        assert f'="{at(name, visit)}"' not in mechanic


def test_distance_is_in_the_shops_unit_and_times_in_its_zone(cast, client_for, visit):
    visit.odometer = 84210
    visit.save()
    client = client_for(cast.writer)
    page = client.get(at("visit", visit)).content.decode()
    assert "84,210 km" in page
    assert times_in(page) == {"+00:00"}
    Shop.objects.filter(pk=cast.shop.pk).update(distance_unit="mi", time_zone="Asia/Kathmandu")
    page = client.get(at("visit", visit)).content.decode()
    assert "84,210 mi" in page
    assert times_in(page) == {"+05:45"}
    assert "mi</span>" in client.get(reverse("jobs:new")).content.decode()


def test_the_card_takes_the_same_number_of_queries_with_more_on_it(cast, client_for, visit):
    client = client_for(cast.diagnostician)

    def queries_with_more(n):
        codes_add(visit=visit, text=f"P030{n} stored\nP10{n}1", member=cast.diagnostician)
        freeze_frame_add(visit=visit, text=f"Speed {n} km/h", member=cast.owner)
        misfires_set(visit=visit, counts={1: n}, member=cast.owner)
        client.post(at("note-add", visit), {"form_token": f"{n:032x}", "text": f"note {n}"})
        client.get(at("visit", visit))  # shows the message of the note
        with CaptureQueriesContext(connection) as captured:
            assert client.get(at("visit", visit)).status_code == 200
        return len(captured)

    few = queries_with_more(1)
    assert few <= 31
    queries_with_more(2)
    assert queries_with_more(3) == few
