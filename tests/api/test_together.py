"""Captures together, for programs."""

from jobs.models import VisitCapture
from tests.jobs.work.conftest import by, run_of, triaged

__all__ = ["by", "run_of", "triaged"]


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
