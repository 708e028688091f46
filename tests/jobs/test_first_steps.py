"""What an empty shop shows, by role."""

import pytest
from django.urls import reverse

from jobs.selectors.first_steps import first_steps
from shopdiag.people.core.roles import Role
from shopdiag.people.invitations import invitation_create
from tests.jobs.conftest import visit_taken_in
from traces.services.clamps import clamp_add


@pytest.mark.parametrize("role", list(Role))
def test_only_owners_are_led_through_the_first_steps(cast, client_for, role):
    member = cast.insiders[role]
    page = client_for(member).get(reverse("jobs:board"))
    assert page.status_code == 200
    assert bool(first_steps(member)) is (role is Role.OWNER)
    assert (b'id="first-steps"' in page.content) is (role is Role.OWNER)
    # Everybody else is led somewhere too.
    assert reverse("practice:home").encode() in page.content


def test_steps_are_done_one_by_one_and_end_with_the_first_job(cast):
    owner = cast.owner
    done = [step.is_done for step in first_steps(owner)]
    assert done == [False, False, True, False]
    clamp_add(member=owner, name="Blue clamp", mv_per_a=10.0)
    owner.shop.address = "1 Canal Street"
    assert [step.is_done for step in first_steps(owner)] == [True, True, True, False]
    visit_taken_in(cast.writer)
    assert first_steps(owner) == ()
    # Another shop's job ends nothing here.
    assert first_steps(cast.other_owner)


def test_an_invitation_counts_before_it_is_used(cast):
    alone = cast.other_owner
    invited = first_steps(alone)[2]
    if not invited.is_done:
        invitation_create(member=alone, label="Nico", role="mechanic")
    assert first_steps(alone)[2].is_done


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize("name", ["jobs:find", "jobs:week"])
def test_empty_pages_lead_to_the_first_job_whoever_takes_it_in(cast, client_for, role, name):
    member = cast.insiders[role]
    page = client_for(member).get(reverse(name))
    if page.status_code == 403:
        return
    offered = f'href="{reverse("jobs:new")}"'.encode() in page.content
    assert offered is (role in {Role.OWNER, Role.WRITER, Role.DIAGNOSTICIAN})
