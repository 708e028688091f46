"""Counts and freeze frames are corrected by one more line; closed jobs take nothing."""

from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.models import Complaint, FreezeFrame, MisfireCounts, Note, TimelineEvent
from jobs.selectors.misfires import misfires_of
from jobs.services.intake import complaint_change, visit_change
from jobs.services.notes import note_add
from jobs.services.triage import (
    code_remove,
    codes_add,
    freeze_frame_add,
    misfires_set,
    triage_change,
    triage_of,
)
from tests.wording import says


def at(name, visit, *more):
    return reverse(f"jobs:{name}", args=[visit.pk, *more])


@pytest.fixture
def by(cast):
    return cast.diagnostician


@pytest.fixture
def client(by, client_for):
    return client_for(by)


def test_counts_of_a_cylinder_that_the_engine_does_not_have_are_refused(client, visit):
    page = client.post(
        at("misfires-set", visit), {"counts": "1: 0, 5: 143", "period": "ten cycles"}
    )
    assert page.status_code == 422
    words = page.content.decode()
    assert says(words, "misfires.engine-no-cylinder-check", strange=5, min=1, max=4)
    assert "1: 0, 5: 143" in words
    assert "ten cycles" in words
    assert not MisfireCounts.objects.exists()


def test_the_service_refuses_them_too(visit, by):
    with pytest.raises(ValidationError) as refused:
        misfires_set(visit=visit, counts={9: 1}, member=by)
    assert says(refused.value, "misfires.engine-no-cylinder-check", strange=9)


def test_without_an_engine_any_cylinder_may_be_counted(take_in, cast, by):
    visit = take_in(cast.writer)
    assert misfires_set(visit=visit, counts={9: 1}, member=by).counts == {"9": 1}


def test_counts_are_corrected_and_the_old_ones_kept(client, visit, by):
    first = misfires_set(visit=visit, counts={1: 0, 2: 143}, member=by, period="ten cycles")
    form = client.get(at("misfires-set", visit), {"replaces": first.pk}).context["form"]
    assert form["counts"].value() == "1: 0, 2: 143"
    assert form["period"].value() == "ten cycles"
    client.post(at("misfires-set", visit), {"replaces": first.pk, "counts": "1: 143, 2: 0"})
    assert MisfireCounts.objects.count() == 2
    assert misfires_of(visit).counts == {1: 143, 2: 0}
    page = client.get(at("visit", visit)).content.decode()
    assert page.count("Misfires counted") == 1
    assert says(page, "codes.replaces-what-typed", name="Dana Diag")
    assert "1: 0, 2: 143" in page
    assert TimelineEvent.objects.filter(words__startswith="corrected misfire counts").count() == 1
    again = client.post(at("misfires-set", visit), {"replaces": first.pk, "counts": "1: 1, 2: 0"})
    assert "was corrected already" in again.content.decode()


def test_a_freeze_frame_is_corrected_and_the_old_one_kept(client, visit, by):
    first = freeze_frame_add(visit=visit, text="Engine speed 812 rpm", member=by, code="P0301")
    form = client.get(at("freeze-frame-add", visit), {"replaces": first.pk}).context["form"]
    assert form["code"].value() == "P0301"
    assert form["text"].value() == "Engine speed\t812\trpm"
    client.post(
        at("freeze-frame-add", visit),
        {"replaces": first.pk, "code": "P0301", "text": "Engine speed\t1812\trpm"},
    )
    (stands,) = FreezeFrame.objects.filter(replaced_by=None)
    assert stands.rows == [{"name": "Engine speed", "value": "1812", "unit": "rpm"}]
    page = client.get(at("visit", visit)).content.decode()
    assert says(page, "codes.replaces-what-added", name="Dana Diag")
    assert "812 rpm" in page


@pytest.mark.parametrize("name", ["misfires-set", "freeze-frame-add"])
@pytest.mark.parametrize("asked", ["x", "0", "99999", "9" * 5000])
def test_what_is_not_there_is_not_corrected(client, visit, name, asked):
    assert client.get(at(name, visit), {"replaces": asked}).status_code == 404


def test_counts_of_another_job_are_not_corrected(client, visit, take_in, cast, by):
    other = misfires_set(visit=take_in(cast.writer), counts={1: 2}, member=by)
    assert client.get(at("misfires-set", visit), {"replaces": other.pk}).status_code == 404
    with pytest.raises(ValidationError) as refused:
        misfires_set(visit=visit, counts={1: 3}, member=by, replaces=other)
    assert says(refused.value, "triage.one-belongs-another-job")


@pytest.fixture
def closed(visit, by):
    codes_add(visit=visit, text="P0301 stored", member=by)
    type(visit).objects.filter(pk=visit.pk).update(stage="closed")
    visit.refresh_from_db()
    return visit


def test_a_closed_job_takes_nothing(closed, by):
    triage = triage_of(visit=closed)
    triage.cranks = "even"
    complaint = closed.complaint
    complaint.words = "Other words."
    closed.odometer = 5
    attempts = [
        lambda: note_add(visit=closed, text="x", member=by),
        lambda: codes_add(visit=closed, text="P0302", member=by),
        lambda: code_remove(code=closed.codes.get(), member=by),
        lambda: freeze_frame_add(visit=closed, text="Load 31 %", member=by),
        lambda: misfires_set(visit=closed, counts={1: 1}, member=by),
        lambda: triage_change(triage=triage, expected_version=1, member=by),
        lambda: complaint_change(complaint=complaint, expected_version=1, member=by),
        lambda: visit_change(visit=closed, expected_version=closed.version, member=by),
    ]
    before = TimelineEvent.objects.count()
    for attempt in attempts:
        with pytest.raises(ValidationError) as refused:
            attempt()
        assert says(refused.value, "visits.job-closed-move-back")
    assert TimelineEvent.objects.count() == before
    assert not Note.objects.exists()


def test_a_job_closed_after_a_page_was_fetched_takes_nothing(visit, by):
    complaint = Complaint.objects.select_related("visit").get(visit=visit)
    type(visit).objects.filter(pk=visit.pk).update(stage="closed")
    complaint.words = "It is the fuel pump."
    with pytest.raises(ValidationError, match="closed"):
        complaint_change(complaint=complaint, expected_version=complaint.version, member=by)


def test_a_closed_jobs_card_offers_nothing_to_add(closed, client_for, cast):
    for member in cast.insiders.values():
        page = client_for(member).get(at("visit", closed)).content.decode()
        for name in (
            *("codes-add", "freeze-frame-add", "misfires-set", "note-add", "photo-add"),
            *("triage-edit", "complaint-edit", "visit-edit"),
        ):
            assert f'"{at(name, closed)}"' not in page, name


def test_a_form_sent_to_a_job_closed_meanwhile_is_told(closed, client):
    page = client.post(at("note-add", closed), {"form_token": uuid4(), "text": "heard it again"})
    assert page.status_code == 422
    assert says(page.content.decode(), "closed.job-closed")
    assert "heard it again" in page.content.decode()
    gone = client.post(at("code-remove", closed, closed.codes.get().pk), follow=True)
    assert says(gone.content.decode(), "closed.job-closed")
    assert closed.codes.exists()
