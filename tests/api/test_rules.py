"""The API knows the rules of the pages and says them in the same words."""

from uuid import uuid4

import pytest

from jobs.core.stages import Stage
from jobs.models import Customer, Note, Vehicle, Visit
from jobs.services.visits import visit_move
from tests.api.conftest import ApiFor, World
from tests.api.endpoints import NEW_JOB, RUN
from tests.conftest import Cast
from tests.wording import says_only
from traces.models import Run

CONTACT = {
    "customer": {
        "name": "Zelda Secretname",
        "phone": "030 998 877",
        "email": "zelda@secretname.example",
    },
    "vehicle": {"make": "Orchard", "model": "Coupé", "plate": "ZS 1"},
    "complaint": {
        "words": "It misses when cold.",
        "authorised_minutes": 60,
        "authorised_by": "Zelda Secretname",
        "authorised_how": "phone",
    },
}


def test_a_job_is_taken_in_once_however_often_it_is_sent(cast: Cast, api_for: ApiFor):
    client, body = api_for(cast.writer), {**NEW_JOB, "form_token": str(uuid4())}
    first, again = client.post("/api/visits/", body), client.post("/api/visits/", body)
    assert first.status_code == again.status_code == 201
    assert first.json()["id"] == again.json()["id"]
    assert (Visit.objects.count(), Vehicle.objects.count(), Customer.objects.count()) == (1, 1, 1)
    assert first.json()["stage"] == "intake"
    assert first.json()["customer"]["name"] == "Nora Newcomer"


def test_a_vehicle_on_file_is_not_entered_twice_unknowingly(cast: Cast, api_for: ApiFor):
    client = api_for(cast.writer)
    known = client.post("/api/visits/", NEW_JOB).json()["vehicle"]["id"]
    answer = client.post("/api/visits/", NEW_JOB)
    assert answer.status_code == 400
    assert f"number {known}" in answer.json()["vehicle"][0]
    assert client.post("/api/visits/", {**NEW_JOB, "another": True}).status_code == 201
    brought = {"vehicle_id": known, "complaint": {"words": "Again."}}
    answer = client.post("/api/visits/", brought)
    assert answer.status_code == 201
    assert answer.json()["customer"]["name"] == "Nora Newcomer"


@pytest.mark.parametrize(
    ("part", "name", "value", "words"),
    [
        ("vehicle", "year", 1066, "model year"),
        ("complaint", "happened_on", "2999-01-01", "still to come"),
        ("complaint", "authorised_minutes", 6001, "at most 6000"),
        ("complaint", "happens", ["at_full_moon"], "not a valid choice"),
        ("customer", "email", "no mail", "valid email"),
        ("", "odometer", 3_000_001, "at most 3,000,000"),
        ("", "odometer", -1, "at least 0"),
        ("", "odometre", 12, "no such field"),
        ("vehicle", "colour", "red", "no such field"),
    ],
)
def test_intake_refuses_what_the_page_refuses(
    *, cast: Cast, api_for: ApiFor, part: str, name: str, value: object, words: str
):
    body = {**NEW_JOB, part: {**NEW_JOB[part], name: value}} if part else {**NEW_JOB, name: value}
    answer = api_for(cast.writer).post("/api/visits/", body)
    assert answer.status_code == 400
    told = answer.json()[part] if part else answer.json()
    assert words in str(told[name])
    assert not Visit.objects.exists()


def test_an_authorisation_needs_who_and_how(cast: Cast, api_for: ApiFor):
    body = {**NEW_JOB, "complaint": {"words": "Shakes.", "authorised_minutes": 60}}
    answer = api_for(cast.writer).post("/api/visits/", body)
    assert set(answer.json()["complaint"]) == {"authorised_by", "authorised_how"}


@pytest.mark.parametrize("name", ["customer", "vehicle"])
def test_customer_and_vehicle_come_in_one_way_each(cast: Cast, api_for: ApiFor, name: str):
    client = api_for(cast.writer)
    both = {**NEW_JOB, f"{name}_id": 1}
    neither = {k: v for k, v in NEW_JOB.items() if k != name}
    for body in (both, neither):
        answer = client.post("/api/visits/", body)
        assert answer.status_code == 400
        assert name in answer.json()
    assert client.post("/api/visits/", {**neither, f"{name}_id": 10**30}).status_code == 400


def test_rows_of_another_shop_cannot_be_named(cast: Cast, api_for: ApiFor, their_visit):
    client = api_for(cast.writer)
    ways = {"vehicle_id": their_visit.vehicle_id, "complaint": NEW_JOB["complaint"]}
    assert "vehicle_id" in client.post("/api/visits/", ways).json()
    ways = {**NEW_JOB, "customer_id": their_visit.vehicle.customer_id}
    del ways["customer"]
    assert "customer_id" in client.post("/api/visits/", ways).json()


def test_a_mechanic_reads_no_contact_anywhere(cast: Cast, api_for: ApiFor, world_of, four):
    taken = api_for(cast.writer).post("/api/visits/", CONTACT)
    assert taken.status_code == 201, taken.content
    visit = Visit.objects.get(pk=taken.json()["id"])
    world = world_of(visit)
    pages = [
        "visits/",
        "work-orders/",
        f"captures/{world.capture.pk}/",
        f"runs/{world.run.pk}/",
        f"work-orders/{world.order.pk}/",
        *(
            f"visits/{visit.pk}/{page}"
            for page in (
                "",
                "notes/",
                "timeline/",
                "triage/",
                "codes/",
                "freeze-frames/",
                "misfires/",
                "captures/",
                "judgements/",
                "work-orders/",
                "outcome/",
            )
        ),
    ]
    mechanic, writer = api_for(cast.mechanic), api_for(cast.writer)
    seen = {page: writer.get(f"/api/{page}").content.decode() for page in pages}
    assert sum("Secretname" in text for text in seen.values()) >= 3
    for page in pages:
        text = mechanic.get(f"/api/{page}").content.decode().casefold()
        for secret in ("secretname", "998 877", "998877"):
            assert secret not in text, page


def test_only_roles_that_search_find_closed_jobs(cast: Cast, api_for: ApiFor, world: World):
    Visit.objects.filter(pk=world.visit.pk).update(stage=Stage.CLOSED)
    plate = world.visit.vehicle.plate
    assert api_for(cast.mechanic).get("/api/visits/").json()["count"] == 0
    assert api_for(cast.mechanic).get("/api/visits/", {"q": plate}).json()["count"] == 0
    found = api_for(cast.writer).get("/api/visits/", {"q": plate}).json()
    assert [row["id"] for row in found["results"]] == [world.visit.pk]


def test_a_search_finds_by_what_the_role_sees(cast: Cast, api_for: ApiFor, world: World):
    vehicle = world.visit.vehicle
    for box, by_mechanic in (
        (vehicle.plate, 1),
        (vehicle.customer.name, 0),
        (vehicle.customer.phone, 0),
    ):
        for member, count in ((cast.mechanic, by_mechanic), (cast.writer, 1)):
            assert api_for(member).get("/api/visits/", {"q": box}).json()["count"] == count


@pytest.mark.parametrize(
    ("role", "to", "status"),
    [
        ("mechanic", "triage", 403),
        ("mechanic", "closed", 403),
        ("writer", "test", 403),
        ("writer", "triage", 200),
        ("writer", "closed", 400),
        ("diagnostician", "closed", 400),
        ("diagnostician", "moon", 400),
    ],
)
def test_each_stage_asks_for_its_role(
    *, cast: Cast, api_for: ApiFor, visit: Visit, role: str, to: str, status: int
):
    answer = api_for(getattr(cast, role)).post(
        f"/api/visits/{visit.pk}/move/", {"to": to, "reason": "x"}
    )
    assert answer.status_code == status, answer.content


def test_a_refused_move_says_what_comes_first(cast: Cast, api_for: ApiFor, visit: Visit):
    visit_move(visit=visit, to=Stage.TRIAGE, member=cast.diagnostician, reason="x")
    client = api_for(cast.diagnostician)
    answer = client.post(f"/api/visits/{visit.pk}/move/", {"to": "test"})
    assert set(answer.json()) == {"detail"}
    assert says_only(answer.json()["detail"], "stages.note-cranking-sound-first")
    offered = {
        m["to"]: m["why_not"] for m in client.get(f"/api/visits/{visit.pk}/").json()["moves"]
    }
    assert says_only(offered["test"], "stages.note-cranking-sound-first")
    assert offered["intake"] is None


def test_the_second_to_save_a_triage_is_told(cast: Cast, api_for: ApiFor, visit: Visit):
    one, other = api_for(cast.diagnostician), api_for(cast.owner)
    address = f"/api/visits/{visit.pk}/triage/"
    saved = one.patch(address, {"cranks": "uneven", "version": 1})
    assert (saved.status_code, saved.json()["version"]) == (200, 2)
    late = other.patch(address, {"cranks": "slow", "version": 1})
    assert late.status_code == 409
    assert "meanwhile" in late.json()["detail"]
    assert other.get(address).json()["cranks"] == "uneven"
    anew = other.patch(address, {"battery_v": 12.4, "version": 2})
    assert (anew.json()["cranks"], anew.json()["battery_v"]) == ("uneven", 12.4)


@pytest.mark.parametrize("volts", [-1, 61, "many"])
def test_a_battery_has_a_battery_s_voltage(cast: Cast, api_for: ApiFor, visit: Visit, volts):
    address = f"/api/visits/{visit.pk}/triage/"
    answer = api_for(cast.diagnostician).patch(address, {"battery_v": volts})
    assert answer.status_code == 400
    assert "battery_v" in answer.json()


def test_codes_are_read_and_what_is_none_is_pointed_out(cast: Cast, api_for: ApiFor, visit: Visit):
    client, address = api_for(cast.diagnostician), f"/api/visits/{visit.pk}/codes/"
    read = client.post(address, {"text": "P0301 stored\nP03O2 pending\n"}).json()
    assert [(c["code"], c["status"], c["cylinder"]) for c in read["added"]] == [
        ("P0301", "stored", 1)
    ]
    assert [odd["text"] for odd in read["not_codes"]] == ["P03O2"]
    assert client.post(address, {"text": " \n "}).status_code == 400
    code = read["added"][0]["id"]
    assert client.delete(f"{address}{code}/").status_code == 204
    assert client.get(address).json() == []


def test_a_note_is_added_once(cast: Cast, api_for: ApiFor, visit: Visit):
    client, address = api_for(cast.mechanic), f"/api/visits/{visit.pk}/notes/"
    body = {"text": "Intake manifold is loose.", "form_token": str(uuid4())}
    assert client.post(address, body).json()["id"] == client.post(address, body).json()["id"]
    assert Note.objects.count() == 1
    assert client.post(address, {"text": "  "}).status_code == 400


def test_a_run_is_made_once_and_for_its_own_capture(
    cast: Cast, api_for: ApiFor, world: World, world_of, take_in
):
    client, token = api_for(cast.diagnostician), str(uuid4())
    body = {**RUN, "form_token": token}
    address = f"/api/captures/{world.capture.pk}/runs/"
    first, again = client.post(address, body), client.post(address, body)
    assert first.status_code == again.status_code == 202
    assert first.json()["id"] == again.json()["id"]
    other = world_of(take_in(cast.writer), seed=2)
    answer = client.post(f"/api/captures/{other.capture.pk}/runs/", body)
    assert answer.status_code == 400
    assert "form_token" in answer.json()
    assert Run.objects.filter(setup__form_token=token).count() == 1


def test_banks_may_be_written_out(cast: Cast, api_for: ApiFor, world: World):
    client, address = (
        api_for(cast.diagnostician),
        f"/api/captures/{world.capture.pk}/runs/",
    )
    asked = client.post(address, {**RUN, "banks": [[1, 2], [3, 4]]})
    assert asked.status_code == 202
    assert asked.json()["set_up"]["banks"] == [[1, 2], [3, 4]]
    assert client.post(address, RUN).json()["set_up"]["banks"] is None


def test_the_shop_s_limit_for_banks_is_taken_unless_one_is_sent(
    cast: Cast, api_for: ApiFor, world: World
):
    cast.shop.bank_even_within = 0.08
    cast.shop.save()
    client, address = api_for(cast.diagnostician), f"/api/captures/{world.capture.pk}/runs/"
    for sent, taken in (({}, 0.08), ({"bank_even_within": 0.06}, 0.06)):
        asked = client.post(address, {**RUN, **sent})
        assert asked.status_code == 202
        run = Run.objects.get(pk=asked.json()["id"])
        assert run.setup.analysis.bank_even_within == taken
        assert asked.json()["set_up"]["bank_even_within"] == taken


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"firing_order": "1-3-4"}, "firing_order"),
        ({"firing_order": "1-3-4-4"}, "firing_order"),
        ({"tdc_angles": [0, 700, 20, 30]}, "tdc_angles"),
        ({"tdc_angles": [0, 180]}, "tdc_angles"),
        ({"mv_per_a": 0}, "detail"),
        ({"current_channel": "Q"}, "detail"),
        ({"sync": {"channel": "coil", "cylinder": 5}}, "detail"),
        ({"sync": {"channel": "clamp", "cylinder": 1}}, "detail"),
        ({"sync": {"channel": "coil", "cylinder": 1, "every_deg": 100}}, "sync"),
        ({"sync_cylinder": 1}, "sync_cylinder"),
        ({"battery_v": 600}, "battery_v"),
        ({"engine": 10**9}, "engine"),
        ({"rate_hz": -5}, "detail"),
        ({"full_scale_v": 1e308}, "detail"),
        ({"banks": [[1, 2], [3]]}, "detail"),
        ({"banks": [[1, "x"]]}, "banks"),
        ({"bank_even_within": 5}, "bank_even_within"),
    ],
)
def test_a_set_up_that_cannot_be_is_refused(
    cast: Cast, api_for: ApiFor, world: World, change: dict[str, object], name: str
):
    before = Run.objects.count()
    answer = api_for(cast.diagnostician).post(
        f"/api/captures/{world.capture.pk}/runs/", {**RUN, **change}
    )
    assert answer.status_code == 400
    assert list(answer.json()) == [name]
    assert Run.objects.count() == before


def test_a_written_order_stands_in_for_the_engine_s(
    cast: Cast, api_for: ApiFor, world: World, four
):
    client, address = api_for(cast.owner), f"/api/captures/{world.capture.pk}/runs/"
    body = {"current_channel": "1", "mv_per_a": 10, "engine": four.pk}
    assert client.post(address, body).json()["set_up"]["firing_order"] == "1-3-4-2"
    typed = client.post(address, {**body, "firing_order": "1-2-4-3"}).json()
    assert typed["set_up"]["firing_order"] == "1-2-4-3"
    del body["engine"]
    assert list(client.post(address, body).json()) == ["firing_order"]


def test_a_verdict_is_signed_by_the_rules(cast: Cast, api_for: ApiFor, world: World):
    client, address = api_for(cast.diagnostician), f"/api/visits/{world.visit.pk}/judgements/"
    token = str(uuid4())
    signed = {"kind": "without", "mechanical": "no", "reason": "A coil.", "form_token": token}
    assert client.post(address, signed).json()["id"] == client.post(address, signed).json()["id"]
    refused = {**signed, "form_token": str(uuid4())}
    assert "reason" in client.post(address, {**refused, "reason": " "}).json()
    assert "cylinders" in client.post(address, {**refused, "cylinders": [9]}).json()
    waiting = {**refused, "kind": "accepted", "run": world.run.pk}
    assert "not done" in client.post(address, waiting).json()["detail"]
    assert client.post(address, {**waiting, "run": 10**12}).status_code == 404


def test_a_finding_names_its_fields_as_the_api_does(cast: Cast, api_for: ApiFor, world: World):
    client, address = api_for(cast.mechanic), f"/api/work-orders/{world.order.pk}/findings/"
    body = {"cylinder": 1, "test": "gauge_dry", "outcome": "bad"}
    assert list(client.post(address, body).json()) == ["pressure_kpa"]
    assert list(client.post(address, {**body, "pressure_kpa": 99_999}).json()) == ["pressure_kpa"]
    better = {**body, "pressure_kpa": 420, "replaces": world.finding.pk, "form_token": str(uuid4())}
    made = client.post(address, better)
    assert made.status_code == 201, made.content
    assert client.post(address, better).json()["id"] == made.json()["id"]
    order = client.get(f"/api/work-orders/{world.order.pk}/").json()
    assert [f["pressure_kpa"] for f in order["findings"]] == [420]
    assert order["findings"][0]["replaces"] == world.finding.pk


def test_an_order_is_drafted_like_the_page_and_made_once(cast: Cast, api_for: ApiFor, world: World):
    client = api_for(cast.diagnostician)
    address = f"/api/visits/{world.visit.pk}/work-orders/"
    again = client.post(address, {"judgement": world.judgement.pk})
    assert (again.status_code, again.json()["id"]) == (201, world.order.pk)
    gone = client.post(f"/api/work-orders/{world.order.pk}/withdraw/", {"reason": "Too early."})
    assert gone.json()["state"] == "withdrawn"
    signed = client.post(
        f"/api/visits/{world.visit.pk}/judgements/",
        {"kind": "without", "mechanical": "yes", "cylinders": [2], "reason": "By ear."},
    ).json()
    body = {"judgement": signed["id"], "tests": ["no such test"]}
    assert list(client.post(address, body).json()) == ["tests"]
    assert list(client.post(address, {"judgement": signed["id"], "scope_minutes": 0}).json()) == [
        "scope_minutes"
    ]
    made = client.post(address, {"judgement": signed["id"]}).json()
    assert made["cylinders"] == [2]
    # What an earlier order answered is not asked again, unless somebody wants it.
    assert "gauge_dry" not in {test["key"] for test in made["tests"]}
    assert made["tests"]
    assert made["cautions"]


def test_the_writer_words_the_customer_s_version_only(cast: Cast, api_for: ApiFor, world: World):
    address = f"/api/visits/{world.visit.pk}/outcome/"
    writer = api_for(cast.writer)
    assert list(writer.patch(address, {"cause": "Valve."}).json()) == ["cause"]
    assert writer.patch(address, {"told_customer": "One valve leaked."}).status_code == 200
    diag = api_for(cast.diagnostician)
    how = diag.patch(address, {"verified": "yes", "version": 2})
    assert list(how.json()) == ["verified_how"]
    done = diag.patch(address, {"cause": "Valve.", "version": 2}).json()
    assert (done["cause"], done["told_customer"]) == ("Valve.", "One valve leaked.")
    assert diag.patch(address, {"cause": "Other.", "version": 2}).status_code == 409


def test_the_vehicles_fuel_is_taken_and_told(cast: Cast, api_for: ApiFor):
    gas = {**NEW_JOB, "vehicle": {**NEW_JOB["vehicle"], "fuel": "gas"}}
    assert api_for(cast.writer).post("/api/visits/", gas).json()["vehicle"]["fuel"] == "gas"
    coal = {**NEW_JOB, "vehicle": {**NEW_JOB["vehicle"], "fuel": "coal"}}
    assert "fuel" in api_for(cast.writer).post("/api/visits/", coal).json()["vehicle"]
