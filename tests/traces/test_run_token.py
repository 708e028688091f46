"""A form sent twice makes one run; its token never answers for another capture."""

from uuid import uuid4

import pytest
from django.test import Client

from shopdiag.people.services import token_create
from tests.traces.conftest import csv_bytes
from tests.wording import says
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.models import Run
from traces.services import TokenUsedError, run_add


@pytest.fixture
def analysis(engine):
    return AnalysisSetup(firing_order=engine.order, current_channel="clamp", mv_per_a=10.0)


def test_the_same_token_gives_the_same_run(add_read, cast, analysis):
    capture, token = add_read(), uuid4()
    given = {"member": cast.diagnostician, "capture": capture, "analysis": analysis}
    first = run_add(**given, form_token=token)
    assert run_add(**given, form_token=token) == first
    assert Run.objects.count() == 1


@pytest.mark.parametrize("whose", ["diagnostician", "outsider"])
def test_a_token_of_another_capture_is_refused(add_read, cast, analysis, whose):
    member, token = getattr(cast, whose), uuid4()
    run_add(member=cast.diagnostician, capture=add_read(), analysis=analysis, form_token=token)
    other = add_read(csv_bytes(seed=2), member=member)
    with pytest.raises(TokenUsedError) as refused:
        run_add(member=member, capture=other, analysis=analysis, form_token=token)
    assert says(refused.value, "runs.token-used-before-make")
    assert Run.objects.count() == 1


def test_programs_are_told_which_field_it_is(add_read, cast, analysis):
    token = uuid4()
    run_add(member=cast.diagnostician, capture=add_read(), analysis=analysis, form_token=token)
    other = add_read(csv_bytes(seed=2))
    _, key = token_create(member=cast.diagnostician, label="test")
    answer = Client(headers={"Authorization": f"Token {key}"}).post(
        f"/api/captures/{other.pk}/runs/",
        {
            "firing_order": "1-3-4-2",
            "current_channel": "clamp",
            "mv_per_a": 10,
            "form_token": str(token),
        },
        content_type="application/json",
    )
    assert answer.status_code == 400
    assert "used before" in str(answer.json()["form_token"])
