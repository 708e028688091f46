"""Captures together, for programs."""

import pytest

from jobs.models import VisitCapture
from tests.jobs.work.conftest import by, idle_of, run_of, triaged

__all__ = ["by", "idle_of", "run_of", "triaged"]


def test_captures_are_compared_and_set_aside(cast, api_for, triaged, run_of):
    client = api_for(cast.diagnostician)
    address = f"/api/visits/{triaged.pk}/together/"
    one = run_of(triaged)
    assert client.get(address).json() == {"diagnosis": None, "verification": None}
    run_of(triaged)
    found = client.get(address).json()["diagnosis"]
    assert found["agree"] is True
    assert [c["role"] for c in found["captures"]] == ["pooled", "pooled"]
    assert {c["cylinder"]: c["call"] for c in found["cylinders"]}[3] == "suspect"
    aside = f"/api/visits/{triaged.pk}/captures/{one.capture_id}/aside/"
    assert client.post(aside, {}).status_code == 400
    answer = client.post(aside, {"why": "Clamp slipped."})
    assert answer.json()["aside_why"] == "Clamp slipped."
    assert client.get(address).json()["diagnosis"] is None
    client.post(aside, {"why": ""})
    assert VisitCapture.objects.get(capture=one.capture_id).aside_why == ""


def test_what_a_run_suggests(cast, api_for, triaged, run_of):
    client = api_for(cast.diagnostician)
    client.post(f"/api/visits/{triaged.pk}/misfires/", {"counts": "1: 3, 2: 8, 3: 7, 4: 112"})
    run = run_of(triaged, {1: 0.6, 2: 1, 3: 1, 4: 1}, candidates=[(1,), (4,)], known=False)
    found = client.get(f"/api/visits/{triaged.pk}/runs/{run.pk}/suggests/").json()
    assert found["ranking"]["sets"][0]["cylinders"] == [4]
    assert found["ranking"]["strength"] == "clear"
    assert [p["pattern"] for p in found["patterns"]] == ["open"]
    assert found["patterns"][0]["tests"][0] == "sync"
    judged = run_of(triaged)
    found = client.get(f"/api/visits/{triaged.pk}/runs/{judged.pk}/suggests/").json()
    assert found["ranking"] is None


def test_programs_read_cranking_and_idling_side_by_side(cast, api_for, triaged, run_of, idle_of):
    figures = dict.fromkeys((1, 2, 3, 4), 1.0)
    run_of(triaged, figures)
    run = idle_of(triaged, figures | {3: 0.1})
    told = api_for(cast.mechanic).get(f"/api/visits/{triaged.pk}/running/").json()
    assert told["after"] is None
    assert told["before"]["run"] == run.pk
    assert told["before"]["says"][0]["kind"] == "burn"
    third = next(line for line in told["before"]["cylinders"] if line["cylinder"] == 3)
    assert third["cranking"]["call"] == "sound"
    assert third["running"]["relative"] == pytest.approx(0.1)
    refused = api_for(cast.diagnostician).post(
        f"/api/visits/{triaged.pk}/judgements/",
        {"kind": "accepted", "mechanical": "yes", "run": run.pk, "cylinders": [3]},
    )
    assert refused.status_code == 404
