"""Initial checks and comebacks for programs, by the rules of the pages."""


def test_a_side_that_no_engine_has_is_refused(cast, visit, api_for):
    answer = api_for(cast.diagnostician).patch(
        f"/api/visits/{visit.pk}/triage/", {"direction": "ahead", "bank_a_side": "bulkhead"}
    )
    assert answer.status_code == 400
    assert "bank_a_side" in answer.json()


def test_programs_read_and_write_the_same(cast, visit, api_for):
    client = api_for(cast.diagnostician)
    said = {"oil_level": "high", "fuel_in_oil": "yes", "plugs_age": 30_000, "fuel_work": "Rail"}
    answer = client.patch(f"/api/visits/{visit.pk}/triage/", said)
    assert answer.status_code == 200, answer.json()
    assert {name: answer.json()[name] for name in said} == said
    assert client.patch(f"/api/visits/{visit.pk}/triage/", {"oil_level": "?"}).status_code == 400
    read = client.get(f"/api/visits/{visit.pk}/").json()["triage"]
    assert (read["oil_level"], read["timing_work_on"]) == ("high", None)


def test_another_shops_job_is_never_offered(cast, visit, their_visit, api_for):
    body = {"comeback_of": their_visit.pk, "version": 1}
    answer = api_for(cast.writer).patch(f"/api/visits/{visit.pk}/", body)
    assert answer.status_code == 400
    assert "comeback_of" in answer.json()


def test_at_intake_and_by_programs(cast, visit, api_for):
    client = api_for(cast.writer)
    body = {
        "vehicle_id": visit.vehicle_id,
        "complaint": {"words": "Again."},
        "comeback_of": visit.pk,
    }
    answer = client.post("/api/visits/", body)
    assert answer.status_code == 201, answer.json()
    made = answer.json()
    assert made["comeback_of"] == visit.pk
    address, version = f"/api/visits/{made['id']}/", made["version"]
    answer = client.patch(address, {"comeback_of": None, "version": version})
    assert (answer.status_code, answer.json()["comeback_of"]) == (200, None)
    assert client.patch(address, {"comeback_of": visit.pk, "version": 1}).status_code == 409
    new = {"vehicle": {"make": "Orchard", "model": "Estate"}, "customer": {"name": "Nora"}}
    answer = client.post("/api/visits/", {**new, "complaint": body["complaint"], "comeback_of": 1})
    assert answer.status_code == 400
