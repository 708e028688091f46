"""What a job's page says first: whose it is, how to reach them, what is next, and the cautions."""

import pytest
from django.template import Context, Template
from django.urls import reverse
from django.utils.html import escape

from jobs.core.next_step import Step
from jobs.core.stages import Stage
from jobs.models import Complaint, Customer, Triage, Vehicle
from traces.core.setup import capture_cautions

pytestmark = pytest.mark.django_db


def page_of(client, visit):
    answer = client.get(reverse("jobs:visit", args=[visit.pk]))
    return answer, answer.content.decode()


@pytest.fixture
def listened(visit, cast):
    Triage.objects.update_or_create(visit=visit, defaults={"cranks": "uneven", "verified": "yes"})
    return visit


def test_the_cautions_stand_in_full_before_the_form_that_takes_a_capture(
    cast, client_for, listened
):
    answer, page = page_of(client_for(cast.diagnostician), listened)
    assert answer.context["page"].following.step is Step.UPLOAD
    form = page.index('name="recordings"')
    cautions = capture_cautions("petrol", listened.vehicle.drive)
    assert len(cautions) > 5
    for sentence in cautions:
        assert 0 < page.index(escape(sentence)) < form


def test_each_role_has_one_dark_button_or_is_told_what_the_job_waits_for(
    cast, client_for, listened
):
    for member, dark in ((cast.diagnostician, 1), (cast.mechanic, 0), (cast.writer, 0)):
        answer, page = page_of(client_for(member), listened)
        assert page.count("btn-primary") == dark, member
        assert escape(answer.context["page"].following.words) in page


def test_a_phone_number_is_dialled_by_those_who_see_it(cast, client_for, visit):
    Customer.objects.filter(pk=visit.vehicle.customer_id).update(phone="+49 (0)30 555-123")
    assert 'href="tel:+4930555123"' in page_of(client_for(cast.writer), visit)[1]
    assert "tel:" not in page_of(client_for(cast.mechanic), visit)[1]


def test_a_number_that_is_none_is_shown_and_not_dialled(cast, client_for, visit):
    Customer.objects.filter(pk=visit.vehicle.customer_id).update(phone="javascript:alert(1)")
    page = page_of(client_for(cast.writer), visit)[1]
    assert "<span>javascript:alert(1)</span>" in page
    assert "tel:" not in page


def test_a_stage_the_job_went_past_is_shown_as_skipped(cast, client_for, visit):
    visit.stage = Stage.DECIDE
    visit.save()
    answer, page = page_of(client_for(cast.diagnostician), visit)
    assert answer.context["page"].skipped == {Stage.TRIAGE, Stage.TEST}
    assert page.count('class="stage stage-skipped"') == 2


def test_what_holds_nothing_is_folded_together_and_shown_to_those_who_may_fill_it(
    cast, client_for, visit
):
    sections = page_of(client_for(cast.diagnostician), visit)[0].context["page"].sections
    assert [s.key for s in sections.held] == ["complaint"]
    assert [s.key for s in sections.empty] == ["triage", "evidence", "work", "outcome"]
    assert page_of(client_for(cast.mechanic), visit)[0].context["page"].sections.empty == ()


def test_in_short_reads_out_what_is_known_and_agreed(cast, client_for, listened):
    Triage.objects.filter(visit=listened).update(battery_v=12.45)
    Complaint.objects.filter(visit=listened).update(
        authorised_minutes=60, authorised_amount="120 EUR", authorised_by="Casey"
    )
    short = page_of(client_for(cast.writer), listened)[0].context["page"].short
    assert short.known == ("cranking sound: uneven", "battery 12.45 V")
    assert short.agreed == ("diagnosis: 60 min, 120 EUR",)


def test_a_move_that_was_refused_keeps_its_reason_in_the_open_menu(cast, client_for, visit):
    client = client_for(cast.diagnostician)
    address = reverse("jobs:move", args=[visit.pk])
    page = client.post(address, {"to": "closed", "reason": "Taken <home>."})
    assert page.status_code == 422
    assert 'value="Taken &lt;home&gt;."' in page.content.decode()
    assert '<details class="more next-move" open>' in page.content.decode()


def test_small_bars_name_no_cylinder_while_the_numbers_are_open():
    rows = [
        {"position": n, "cylinder": None, "relative": 1 - n / 10, "low": 0.5, "call": "sound"}
        for n in (1, 2, 3)
    ]
    drawn = Template("{% load components %}{% small_bars rows %}").render(Context({"rows": rows}))
    assert ">1</text>" not in drawn
    assert [f">{letter}</text>" in drawn for letter in "ABC"] == [True] * 3
    assert drawn.count('<rect class="bars-ink') == 3
    known = [row | {"cylinder": n + 4} for n, row in enumerate(rows)]
    drawn = Template("{% load components %}{% small_bars rows %}").render(Context({"rows": known}))
    assert [f">{n}</text>" in drawn for n in (4, 5, 6)] == [True] * 3


def test_the_last_six_of_a_vin_stay_on_one_line(cast, client_for, visit):
    Vehicle.objects.filter(pk=visit.vehicle_id).update(vin="1M8GDM9AXKP042788")
    page = page_of(client_for(cast.writer), visit)[1]
    assert 'class="mono unbroken">1M8GDM9AXKP042788</dd>' in page
