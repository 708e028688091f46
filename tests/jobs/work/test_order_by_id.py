"""What came later counts, also where the host's clock was set back in between."""

from datetime import datetime, timedelta
from unittest.mock import patch

import pytest

from jobs.models import TimelineEvent
from jobs.selectors.captures import capture_rows, latest_judgement
from jobs.selectors.findings import current_findings
from jobs.selectors.job_card import visit_card
from jobs.selectors.misfires import counts_standing
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.notes import note_add
from jobs.services.triage import misfires_set
from jobs.services.work import work_order_create
from traces.models import Run


@pytest.fixture
def clock_back():
    """Set the host's clock an hour back."""

    class AnHourAgo(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime.now(tz) - timedelta(hours=1)

    # rows hold `timezone.now` itself as their default, so the clock under it is turned
    with patch("django.utils.timezone.datetime", AnHourAgo):
        yield


@pytest.fixture
def first(signed):
    """A verdict signed by the right clock."""
    return signed


def test_an_overruled_verdict_does_not_come_back(first, by, request):
    request.getfixturevalue("clock_back")
    second = judgement_sign(
        visit=first.visit,
        member=by,
        run=first.run,
        kind="overruled",
        mechanical="no",
        cylinders=[],
        reason="A coil after all.",
    )
    assert second.at < first.at
    assert latest_judgement(first.visit) == second
    assert first.visit.judgements.first() == second


def test_the_last_counts_stand(visit, cast, request):
    misfires_set(visit=visit, counts={1: 2}, member=cast.diagnostician, period="one")
    request.getfixturevalue("clock_back")
    second = misfires_set(visit=visit, counts={1: 9}, member=cast.diagnostician, period="two")
    assert counts_standing(visit) == second


def test_notes_and_the_timeline_keep_their_order(visit, cast, request):
    note_add(visit=visit, text="first", member=cast.writer)
    request.getfixturevalue("clock_back")
    note_add(visit=visit, text="second", member=cast.writer)
    card = visit_card(cast.writer, visit)
    assert [note.text for note in card.notes] == ["first", "second"]
    ids = [event.pk for event in TimelineEvent.objects.filter(visit=visit)]
    assert ids == sorted(ids)
    assert [event.pk for event in card.events] == sorted(ids, reverse=True)


def test_the_last_reading_of_a_gauge_is_the_one_shown(first, by, request):
    order = work_order_create(judgement=first, member=by)
    finding_add(order=order, member=by, found=_gauge(640))
    request.getfixturevalue("clock_back")
    finding_add(order=order, member=by, found=_gauge(1100))
    (shown,) = current_findings(order)
    assert [f.pressure_kpa for f in (shown, *shown.repeats)] == [1100, 640]


def _gauge(pressure_kpa):
    return NewFinding(3, "gauge_dry", "good", pressure_kpa=pressure_kpa, confirmed=True)


def test_the_newest_run_counts(first):
    """Also where the database's own clock was set back."""
    run = Run.objects.get(pk=first.run_id)
    again = Run.objects.get(pk=first.run_id)
    setup = run.setup
    setup.pk = None
    setup.form_token = "0d0c2b1e-6a0b-4a53-9a0e-6f5a3c1d2e41"
    setup.save()
    again.pk = None
    again.setup = setup
    again.queued_at = run.queued_at - timedelta(hours=1)
    again.save()
    assert [row.run for row in capture_rows(first.visit)] == [again]
    assert run.capture.runs.first() == again
