"""A file that was just sent goes on to its set-up by itself, once it is read."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from jobs.models import VisitCapture
from tests.traces.conftest import csv_bytes, media  # noqa: F401 - a fixture
from traces.models import Reading
from traces.runs.reading import reading_read

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("media")]


@pytest.fixture
def sent(triaged, by, client_for) -> str:
    """The address that an upload leads to."""
    answer = client_for(by).post(
        reverse("jobs:capture-upload", args=[triaged.pk]),
        {
            "recordings": SimpleUploadedFile("crank.csv", csv_bytes()),
            "purpose": "diagnosis",
        },
    )
    address: str = answer.headers["Location"]
    return address


def test_the_page_waits_until_the_file_is_read_and_leads_on(sent, by, client_for):
    client, tie = client_for(by), VisitCapture.objects.get()
    page = client.get(sent)
    assert page.status_code == 200
    assert "then=set-up" in page.context["state_url"]
    assert "HX-Redirect" not in client.get(page.context["state_url"]).headers

    reading_read(Reading.objects.get().pk)
    set_up = reverse("traces:setup", args=[tie.capture_id])
    back = reverse("jobs:capture", args=[tie.capture_id])
    for address in (
        client.get(sent).headers["Location"],
        client.get(page.context["state_url"]).headers["HX-Redirect"],
    ):
        assert address.startswith(f"{set_up}?")
        assert client.get(address).context["back"] == back
    # who comes back finds the page of the capture
    assert client.get(back).status_code == 200
    assert "HX-Redirect" not in client.get(reverse("traces:state", args=[tie.capture_id])).headers


def test_who_may_not_set_up_stays(sent, cast, client_for):
    reading_read(Reading.objects.get().pk)
    assert client_for(cast.writer).get(sent).status_code == 200
