"""The whole job through the API by the three people who do it, with the real analysis."""

from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from jobs.models import TimelineEvent, Visit
from tests.api.conftest import ApiFor
from tests.conftest import Cast
from tests.traces.conftest import reference, reference_line
from traces.models import Reading
from traces.runs.analysing import run_analyse
from traces.runs.reading import reading_read

DONE = {"summary": "Burnt valve.", "left_out": "The gauge says enough."}


def _sent(client: Any, method: str, path: str, body: Any = None, status: int = 200) -> Any:
    answer = getattr(client, method)(f"/api/{path}", body)
    assert answer.status_code == status, answer.content
    return answer.json()


def _captured(client: Any, job: str, name: str, purpose: str) -> int:
    """Upload a reference capture, have it read, set it up, have it analysed; return the run."""
    path, line = reference(name), reference_line(name)
    file = SimpleUploadedFile(name, path.read_bytes())
    answer = client.post(
        f"/api/{job}captures/", {"file": file, "purpose": purpose}, format="multipart"
    )
    assert answer.status_code == 201, answer.content
    capture = f"captures/{answer.json()[0]['capture']}/"
    assert _sent(client, "get", capture)["reading"]["state"] == "queued"
    # What the worker's tasks call.
    reading_read(_reading(capture))
    read = _sent(client, "get", capture)["reading"]
    assert read["state"] == "done"
    assert line["current"]["channel"] in [c["name"] for c in read["understood"]["channels"]]
    asked = {
        "firing_order": line["firing_order"],
        "current_channel": line["current"]["channel"],
        "mv_per_a": line["current"]["mv_per_a"],
        "sync": {k: line["sync"][k] for k in ("channel", "cylinder", "event", "every_deg")},
        "fuel_off": True,
        "temperature": "warm",
    }
    run: int = _sent(client, "post", f"{capture}runs/", asked, 202)["id"]
    assert _sent(client, "get", f"runs/{run}/")["state"] == "queued"
    assert run_analyse(run)
    return run


def _reading(capture: str) -> int:
    return Reading.objects.get(capture_id=int(capture.split("/")[1])).pk


def test_from_complaint_to_history(cast: Cast, api_for: ApiFor):
    writer, diag, mech = map(api_for, (cast.writer, cast.diagnostician, cast.mechanic))

    taken = {
        "customer": {"name": "Jorun Halloway", "phone": "555 0199 12"},
        "vehicle": {"make": "Brindle", "model": "Sparrow 1.4", "plate": "qx 71 rtl"},
        "complaint": {
            "words": "It shakes at the lights.",
            "happens": ["idle", "warm"],
            "warning_lights": ["engine"],
            "authorised_minutes": 60,
            "authorised_by": "Jorun Halloway",
            "authorised_how": "phone",
        },
    }
    visit = _sent(writer, "post", "visits/", taken, 201)
    job = f"visits/{visit['id']}/"
    assert (visit["number"], visit["stage"]) == (1, "intake")
    assert visit["vehicle"]["plate"] == "QX 71 RTL"

    _sent(diag, "post", f"{job}codes/", {"text": "P0301 stored\nP0300 pending"}, 201)
    _sent(diag, "post", f"{job}misfires/", {"counts": "1: 143, 2: 0, 3: 1, 4: 0"}, 201)
    _sent(diag, "patch", f"{job}triage/", {"verified": "yes", "cranks": "uneven"})
    run = _captured(diag, job, "ref-01.csv", "diagnosis")
    done = _sent(diag, "get", f"runs/{run}/")
    # The reference's own truth: cylinder 1 is low.
    assert (done["verdict"], done["result"]["candidates"]) == ("uneven", [[1]])
    signed = {"run": run, "kind": "accepted", "mechanical": "yes", "cylinders": [1]}
    judgement = _sent(diag, "post", f"{job}judgements/", signed, 201)
    order = _sent(diag, "post", f"{job}work-orders/", {"judgement": judgement["id"]}, 201)
    assert (order["cylinders"], order["scope_minutes"], order["state"]) == ([1], 60, "open")
    assert order["tests"]
    assert order["cautions"]
    assert _sent(diag, "get", job)["stage"] == "work"

    paper = f"work-orders/{order['id']}/"
    assert _sent(mech, "post", f"{paper}accept/")["assigned_to"] == "Mika Mech"
    early = _sent(mech, "post", f"{paper}complete/", {}, 400)
    assert "cylinder 1" in early["detail"]
    found = {"cylinder": 1, "test": "gauge_dry", "outcome": "bad", "pressure_kpa": 640}
    _sent(mech, "post", f"{paper}findings/", found, 201)
    unsaid = _sent(mech, "post", f"{paper}complete/", {"summary": "Burnt valve."}, 400)
    assert "Leak-down; Borescope" in unsaid["left_out"][0]
    assert _sent(mech, "post", f"{paper}complete/", DONE)["state"] == "done"

    proof = _captured(diag, job, "ref-02.csv", "verification")
    assert _sent(diag, "get", f"runs/{proof}/")["verdict"] == "even"
    outcome = {
        "cause": "Exhaust valve of cylinder 1 burnt.",
        "correction": "Valve and seat renewed.",
        "verified": "yes",
        "verified_how": "Second capture under the same conditions: even.",
    }
    _sent(diag, "patch", f"{job}outcome/", outcome)
    told = _sent(
        writer, "patch", f"{job}outcome/", {"told_customer": "A valve leaked.", "version": 2}
    )
    assert (told["cause"], told["told_customer"]) == (outcome["cause"], "A valve leaked.")
    closed = _sent(writer, "post", f"{job}move/", {"to": "closed"})
    assert closed["stage"] == "closed"
    assert closed["closed_at"]

    found_again = _sent(writer, "get", "visits/?q=sparrow burnt")
    assert [row["id"] for row in found_again["results"]] == [visit["id"]]
    lines = _sent(writer, "get", f"{job}timeline/")["results"]
    assert len(lines) == TimelineEvent.objects.count()
    assert {line["by"] for line in lines} == {"Wren Writer", "Dana Diag", "Mika Mech"}
    assert Visit.objects.get().closed_at is not None
