"""Lists: as many queries for many rows as for few, pages, filters."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import CylinderFinding
from tests.api.conftest import ApiFor, World
from tests.conftest import Cast
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.services import run_add

pytestmark = pytest.mark.every_database

HUGE = 10**30


def asked(client: Any, path: str) -> tuple[int, int]:
    """Return how many queries a list took and how many rows it gave."""
    with CaptureQueriesContext(
        connection,
    ) as queries:
        answer = client.get(path)
    assert answer.status_code == 200
    body = answer.json()
    return len(queries), len(body if isinstance(body, list) else body["results"])


@pytest.mark.parametrize("role", ["owner", "mechanic"])
def test_the_shop_s_lists(*, cast: Cast, api_for: ApiFor, world: World, world_of, take_in, role):
    client = api_for(getattr(cast, role))
    client.get("/api/engines/")
    paths = ("/api/visits/", "/api/work-orders/")
    before = {path: asked(client, path) for path in paths}
    world_of(take_in(cast.writer, engine=world.visit.vehicle.engine), seed=2)
    world_of(take_in(cast.writer), seed=3)
    for path, (queries, rows) in before.items():
        assert asked(client, path) == (queries, rows + 2), path


def test_the_lists_of_one_job(cast: Cast, api_for: ApiFor, world: World):
    client, diag = api_for(cast.owner), cast.diagnostician
    client.get("/api/engines/")
    visit = f"/api/visits/{world.visit.pk}/"
    runs, orders = f"/api/captures/{world.capture.pk}/runs/", f"{visit}work-orders/"
    lists = {name: f"{visit}{name}/" for name in ("notes", "codes", "misfires", "judgements")}
    lists |= {"captures": f"{visit}captures/", "frames": f"{visit}freeze-frames/", "runs": runs}
    timeline = f"{visit}timeline/"
    before = {name: asked(client, path) for name, path in lists.items()}
    lines, card = asked(client, timeline), len(client.get(visit).json())
    with CaptureQueriesContext(connection) as shown:
        client.get(visit)
    with CaptureQueriesContext(connection) as one_finding:
        client.get(orders)

    client.post(lists["notes"], {"text": "Another."})
    client.post(lists["codes"], {"text": "P0420 pending"})
    client.post(lists["misfires"], {"counts": "1: 9, 2: 1"})
    client.post(lists["frames"], {"text": "Load 31 %"})
    client.post(lists["judgements"], {"kind": "without", "mechanical": "yes", "reason": "x"})
    run_add(
        member=diag,
        capture=world.capture,
        analysis=AnalysisSetup(world.run.setup.analysis.firing_order, "clamp", 1.0),
    )
    for cylinder in (2, 3, 4):
        CylinderFinding.objects.create(
            work_order=world.order, cylinder=cylinder, test="other", outcome="good", by=diag
        )
    for name, (queries, rows) in before.items():
        more = 0 if name == "captures" else 1
        assert asked(client, lists[name]) == (queries, rows + more), name
    assert asked(client, timeline) == (lines[0], lines[1] + 5)
    with CaptureQueriesContext(connection) as again:
        assert len(client.get(visit).json()) == card
    assert len(again) == len(shown)
    with CaptureQueriesContext(connection) as four_findings:
        assert len(client.get(orders).json()[0]["findings"]) == 4
    assert len(four_findings) == len(one_finding)


def test_pages_lead_to_each_other_and_have_a_limit(cast: Cast, api_for: ApiFor, take_in):
    client, writer = api_for(cast.owner), cast.writer
    numbers = [take_in(writer).number for _ in range(3)]
    seen, path = [], "/api/visits/?limit=2"
    while path:
        page = client.get(path).json()
        seen += [row["number"] for row in page["results"]]
        path = page["next"]
    assert seen == numbers[::-1]
    for odd in (
        "limit=0",
        "limit=-1",
        "limit=x",
        f"limit={HUGE}",
        f"offset={HUGE}",
        "offset=-1",
    ):
        assert client.get(f"/api/visits/?{odd}").status_code == 200
    assert "limit=200" in client.get(f"/api/visits/?limit={HUGE}&offset=1").json()["previous"]


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("plate=kx-777-t", True),
        ("plate=KX 778 T", False),
        ("stage=intake", True),
        ("stage=closed", False),
        ("number=1", True),
        ("number=99999999999999999999", False),
        ("vin=wvwzzz1jz3w386752", True),
        ("q=0301", False),
        ("q=KX777T", True),
        ("q=Findable", True),
        ("q=030 4444", True),
        ("q=wobbles", True),
    ],
)
def test_visits_are_found(cast: Cast, api_for: ApiFor, take_in, query: str, found: bool):
    # The VIN is made up; only its length and letters matter here.
    job = take_in(
        cast.writer,
        plate="KX 777 T",
        name="Findable Frida",
        phone="030 4444",
        vin="WVWZZZ1JZ3W386752",
        words="It wobbles.",
    )
    rows = api_for(cast.writer).get(f"/api/visits/?{query}").json()["results"]
    assert [row["id"] for row in rows] == ([job.pk] if found else [])


@pytest.mark.parametrize("query", ["stage=moon", "number=x", "number=nan", "plate=%00", "q=a%00b"])
def test_filters_that_make_no_sense_are_told(cast: Cast, api_for: ApiFor, query: str):
    answer = api_for(cast.owner).get(f"/api/visits/?{query}")
    assert answer.status_code == 400
    assert list(answer.json()) == [query.partition("=")[0]]


def test_engines_are_found_by_what_is_stamped_on_them(cast: Cast, api_for: ApiFor, four):
    client = api_for(cast.mechanic)
    for query in ("firing_order=1-3-4-2&cylinders=4", "layout=I4&fuel=petrol"):
        rows = client.get(f"/api/engines/?{query}").json()["results"]
        assert [row["id"] for row in rows] == [four.pk]
    assert client.get("/api/engines/?cylinders=6").json()["count"] == 0
    assert client.get(f"/api/engines/?cylinders={HUGE}").status_code in {200, 400}


def test_the_throttle_lets_a_program_wait_for_a_run(settings):
    # A program that asks twice a second for each of four runs stays under it.
    count, period = settings.REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"]["user"].split("/")
    assert period == "min"
    assert int(count) >= 4 * 2 * 60
