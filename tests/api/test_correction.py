"""Saying over the API what a file is, where it was understood wrongly."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.api.conftest import World
from tests.api.kept_world import cast, four, kept, taken, visit, world
from tests.conftest import Cast
from tests.wording import says
from traces.models import FileShape, Reading
from traces.runs.reading import reading_read

__all__ = ["cast", "four", "kept", "taken", "visit", "world"]

IN_MS = {
    "rate_hz": 500.0,
    "start_s": -0.5,
    "channels": [
        {"number": 1, "name": "clamp", "unit": "", "factor": 0.5},
        {"number": 2, "left_out": True},
    ],
    "text": {"delimiter": ",", "heading_line": 1},
}


def test_said_read_and_shown(world: World, api_for, cast: Cast) -> None:
    client, address = api_for(cast.diagnostician), f"/api/captures/{world.capture.pk}/"
    before = client.get(address).json()
    assert before["reading_anew"] is None
    answer = client.post(f"{address}correction/", IN_MS)
    assert answer.status_code == 202
    anew = answer.json()["reading_anew"]
    assert (anew["state"], anew["correction"]) == ("queued", IN_MS)
    # the one before counts until this is done
    assert answer.json()["reading"] == before["reading"]
    assert reading_read(Reading.objects.latest("pk").pk)
    after = client.get(address).json()
    assert after["reading_anew"] is None
    assert after["reading"]["correction"] == IN_MS
    understood = after["reading"]["understood"]
    assert [(c["name"], c["unit"]) for c in understood["channels"]] == [("clamp", None)]
    assert (understood["rate_hz"], understood["start_s"]) == (500.0, -0.5)
    assert FileShape.objects.get().shape == after["reading"]["shape"]
    # and as it is again
    client.post(f"{address}correction/", {})
    reading_read(Reading.objects.latest("pk").pk)
    assert client.get(address).json()["reading"]["correction"] == {}


def test_a_capture_is_told_without_the_results_of_its_runs(
    world: World, api_for, cast: Cast
) -> None:
    with CaptureQueriesContext(connection) as asked:
        told = api_for(cast.mechanic).get(f"/api/captures/{world.capture.pk}/").json()
    assert told["runs"] == list(world.capture.runs.values_list("pk", flat=True))
    assert told["runs"]
    assert not any('"traces_run"."result"' in query["sql"] for query in asked)


def test_one_that_fails_stays_beside(world: World, api_for, cast: Cast) -> None:
    client, address = api_for(cast.diagnostician), f"/api/captures/{world.capture.pk}/"
    before = client.get(address).json()["reading"]
    client.post(f"{address}correction/", {"text": {"first_row_line": 1}})
    reading_read(Reading.objects.latest("pk").pk)
    after = client.get(address).json()
    assert after["reading"] == before
    assert after["reading_anew"]["state"] == "failed"
    assert says(after["reading_anew"]["error"], "text_corrected.line-no-row-numbers", line=1)


@pytest.mark.parametrize(
    "said",
    [
        {"rate": 1},
        {"rate_hz": 0},
        {"rate_hz": "fast"},
        {"channels": [{"number": 1, "factor": 0}]},
        {"channels": [{"number": 0}]},
        {"channels": [{"name": "A"}]},
        {"channels": {"number": 1}},
        {"channels": [{"number": 1, "name": "A"}, {"number": 1, "name": "B"}]},
        {"text": {"delimiter": "colon"}},
        {"text": {"heading_line": 4, "first_row_line": 4}},
        {"text": {"time_column": 0, "time_unit": "ms"}},
    ],
    ids=str,
)
def test_what_cannot_be_meant_is_refused(world: World, api_for, cast: Cast, said: Any) -> None:
    client = api_for(cast.diagnostician)
    answer = client.post(f"/api/captures/{world.capture.pk}/correction/", said)
    assert answer.status_code == 400
    assert Reading.objects.filter(asked_by__isnull=False).count() == 0
