"""A person says which earlier job of the vehicle a visit comes back for."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from jobs.models import Visit
from jobs.selectors.comebacks import comeback_links
from jobs.selectors.week import week_of
from jobs.services.intake import visit_change
from tests.wording import says


def closed(visit, days_ago):
    """Close a job in the past, as its rows would stand."""
    at = timezone.now() - timedelta(days=days_ago, hours=1)
    Visit.objects.filter(pk=visit.pk).update(
        stage="closed", opened_at=at - timedelta(days=1), closed_at=at
    )
    visit.refresh_from_db()
    return visit


@pytest.fixture
def again(cast, visit, take_in):
    """The same vehicle, taken in once more."""
    return take_in(cast.writer, vehicle=visit.vehicle, customer=visit.vehicle.customer)


def edit(client, visit, **typed):
    address = reverse("jobs:visit-edit", args=[visit.pk])
    return client.post(address, {"version": visit.version, "odometer": "", **typed})


def test_it_is_said_and_shown_on_both(cast, client_for, visit, again):
    client = client_for(cast.writer)
    closed(visit, 200)
    assert edit(client, again, comeback_of=visit.pk).status_code == 302
    again.refresh_from_db()
    assert again.comeback_of == visit
    assert comeback_links(again).of == visit
    assert comeback_links(visit).later == (again,)
    for job, other in ((again, visit), (visit, again)):
        page = client.get(reverse("jobs:visit", args=[job.pk])).content.decode()
        assert f'href="{reverse("jobs:visit", args=[other.pk])}"' in page
        assert [e.kind for e in job.events.all()].count("comeback") == 1
    history = client.get(reverse("jobs:vehicle", args=[visit.vehicle_id])).content.decode()
    assert says(history, "comeback.comes-back", number=visit.number)
    # saying nothing else adds no line
    assert edit(client, again, comeback_of=visit.pk).status_code == 302
    assert [e.kind for e in again.events.all()].count("comeback") == 1


def test_it_counts_as_a_comeback_however_long_ago(cast, visit, again):
    closed(visit, 200)
    assert week_of(cast.owner).comebacks == ()
    again.comeback_of = visit
    visit_change(visit=again, expected_version=1, member=cast.writer)
    (row,) = week_of(cast.owner).comebacks
    assert (row.earlier, row.pair.is_said, row.pair.days) == (visit, True, 200)


def test_a_job_delivered_soon_before_is_asked_about(cast, visit, again):
    closed(visit, 10)
    links = comeback_links(again)
    assert (links.of, links.asked, links.days) == (None, visit, 10)
    closed(visit, 91)
    assert comeback_links(again).asked is None


def test_only_an_earlier_job_of_the_vehicle_is_taken(cast, client_for, visit, again, take_in):
    client, strange = client_for(cast.writer), take_in(cast.writer)
    for other in (again, strange):
        assert edit(client, again, comeback_of=other.pk).status_code == 422
    edit(client, visit, comeback_of=again.pk)  # the first has none before it to choose
    for job, other in ((again, again), (again, strange), (visit, again)):
        job.refresh_from_db()
        assert job.comeback_of is None
        job.comeback_of = other
        with pytest.raises(ValidationError):
            visit_change(visit=job, expected_version=job.version, member=cast.writer)


def test_intake_asks_of_a_vehicle_on_file(cast, visit, client_for):
    page = client_for(cast.writer).get(f"{reverse('jobs:new')}?vehicle={visit.vehicle_id}")
    assert 'name="visit-comeback_of"' in page.content.decode()
    assert "comeback_of" not in client_for(cast.writer).get(reverse("jobs:new")).content.decode()
