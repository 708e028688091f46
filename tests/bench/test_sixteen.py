"""Sixteen vehicles come from complaint to proof without free text standing in for a test."""

import pytest

from bench.sixteen.carrying import Carried, carry, free_text_of, open_shop
from bench.sixteen.vehicles import vehicles
from jobs.core.measured_tests import TESTS, proposed
from jobs.models import CylinderFinding, Outcome
from jobs.selectors.typed_findings import rows_of, sayings_about, typed_test_of

VEHICLES = {vehicle.key: vehicle for vehicle in vehicles()}
COMPRESSION = {"burnt_valve", "gasket", "rings", "bank_timing"}


def test_there_are_sixteen():
    assert len(VEHICLES) == 16
    assert all(len(vehicle.master) >= 3 for vehicle in VEHICLES.values())


@pytest.mark.django_db
@pytest.mark.parametrize("key", VEHICLES)
def test_it_comes_to_proof_by_typed_records_that_name_the_cause(settings, tmp_path, key):
    settings.MEDIA_ROOT = tmp_path
    vehicle = VEHICLES[key]
    done = carry(vehicle, open_shop())
    visit = done.visit
    assert visit.stage == "closed"
    assert Outcome.objects.get(visit=visit).verified == "yes"
    assert free_text_of(visit) == []
    # the proof fits the group: a second capture for compression, counts over a drive otherwise
    assert ("crank" in vehicle.proof) == (vehicle.key in COMPRESSION)
    assert set(done.cause_keys) & set(vehicle.shown), done.cause_keys
    assert done.is_shown
    assert all(said for step, said in done.steps if step != "initial checks")
    _assert_outcomes_are_those_that_the_rules_propose(done)


def _assert_outcomes_are_those_that_the_rules_propose(done: Carried) -> None:
    for order in done.visit.work_orders.all():
        findings = list(CylinderFinding.objects.filter(work_order=order))
        for test in {f.test for f in findings} & set(TESTS):
            entry = typed_test_of(order, test)
            assert entry is not None
            said = proposed(sayings_about(order, entry, rows_of(findings, test)))
            for finding in (f for f in findings if f.test == test):
                row = finding.bank if finding.bank is not None else finding.cylinder
                assert said.get(row, finding.outcome) == finding.outcome, (test, row)
