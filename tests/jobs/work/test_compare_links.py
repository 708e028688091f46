"""From the job to both curves by crank angle: after a repair, and over a vehicle's visits."""

import re
from html import unescape

import pytest
from django.urls import reverse

from jobs.models import VisitCapture
from jobs.selectors.history import vehicle_runs
from traces.models import Run, Work

EVEN = {1: 1.0, 2: 0.99, 3: 0.98, 4: 1.01}


def compare_links(text: str) -> list[str]:
    return [unescape(link) for link in re.findall(r'href="([^"]*/compare/[^"]*)"', text)]


@pytest.fixture
def after(signed, run_of) -> Run:
    run: Run = run_of(signed.visit, EVEN, purpose="verification")
    return run


def test_before_and_after_leads_to_both_curves(client_for, cast, signed, after):
    page = reverse("jobs:before-after", args=[signed.visit_id])
    browser = client_for(cast.mechanic)
    (link,) = compare_links(browser.get(page).content.decode())
    assert link.startswith(reverse("traces:compare", args=[after.capture_id, after.pk]))
    answer = browser.get(link)
    text = answer.content.decode()
    assert answer.status_code == 200
    assert "Capture before</strong>, dashed" in text
    assert f'href="{page}"' in text, "the way back to the job"
    assert re.search(r"changed\s*</span>\s*higher", text)
    # these reports are of before curves were kept by crank angle
    assert "analyse it again" in text


def test_without_a_capture_after_the_repair_there_is_no_link(client_for, cast, signed):
    page = reverse("jobs:before-after", args=[signed.visit_id])
    assert compare_links(client_for(cast.mechanic).get(page).content.decode()) == []


class TestTheVehiclesCaptures:
    def test_each_is_offered_beside_the_newest(self, client_for, cast, signed, after):
        vehicle = signed.visit.vehicle
        page = reverse("jobs:vehicle", args=[vehicle.pk])
        browser = client_for(cast.writer)
        text = browser.get(page).content.decode()
        (link,) = compare_links(text)
        assert f"with={signed.run_id}" in link
        assert reverse("traces:compare", args=[after.capture_id, after.pk]) in link
        assert browser.get(link).status_code == 200

    def test_only_the_newest_judged_analysis_of_each_counts(self, cast, signed, after, run_of):
        visit = signed.visit
        run_of(visit, EVEN, verdict="not judged")
        run_of(visit, EVEN, state=Work.State.RUNNING)
        aside = run_of(visit, EVEN)
        VisitCapture.objects.filter(capture=aside.capture).update(aside_why="another engine")
        found = vehicle_runs(cast.owner, visit.vehicle)
        assert found == [after, signed.run]

    def test_another_shop_sees_none(self, cast, signed):
        assert vehicle_runs(cast.other_owner, signed.visit.vehicle) == []
