"""A code that names another cylinder stands beside the verdict, from signing to the sheet."""

import pytest
from django.urls import reverse

from jobs.services.judgements import judgement_sign
from jobs.services.triage import codes_add
from jobs.services.work import work_order_create

TELLS = "names cylinder 4"


@pytest.fixture
def coded(triaged, run_of, by):
    """A visit with a code of cylinder 4 and a capture that names cylinder 3."""
    codes_add(visit=triaged, text="P0304 stored", member=by)
    return triaged, run_of(triaged)


def _page(client_for, by, name, number):
    answer = client_for(by).get(reverse(name, args=[number]))
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.mark.parametrize("named", [3, 4])
def test_from_signing_to_the_sheet(coded, by, client_for, named):
    visit, run = coded
    assert run.report.candidates == ((3,),)
    assert TELLS in _page(client_for, by, "jobs:decide", visit.pk)
    assert TELLS in _page(client_for, by, "jobs:capture", run.capture_id)
    judgement = judgement_sign(
        visit=visit,
        member=by,
        kind="overruled",
        mechanical="yes",
        run=run,
        cylinders=[named],
        reason="By gauge.",
    )
    told = named != 4
    assert (TELLS in _page(client_for, by, "jobs:work-order-new", visit.pk)) is told
    order = work_order_create(judgement=judgement, member=by)
    assert (TELLS in _page(client_for, by, "jobs:visit", visit.pk)) is told
    for name in ("jobs:work-order", "jobs:work-order-print"):
        assert (TELLS in _page(client_for, by, name, order.pk)) is told


def test_what_rules_the_verdict_out_ends_with_a_sentence_on_the_sheet(coded, by, client_for):
    visit, run = coded
    judgement = judgement_sign(
        visit=visit, member=by, kind="accepted", mechanical="yes", run=run, cylinders=[3]
    )
    order = work_order_create(judgement=judgement, member=by)
    page = " ".join(_page(client_for, by, "jobs:work-order-print", order.pk).split())
    printed = page.partition("What would rule it out:</strong> ")[2].partition("</p>")[0]
    assert printed.endswith(".")
    assert order.disproof.startswith(printed.strip())


def test_a_verdict_without_a_cylinder_is_beside_a_code_that_has_one(triaged, by, client_for):
    codes_add(visit=triaged, text="P0304 stored", member=by)
    for cylinders in ([], [4]):
        judgement_sign(
            visit=triaged,
            member=by,
            kind="without",
            mechanical="no",
            fault_group="ignition",
            cylinders=cylinders,
            reason="Moved with the coil.",
        )
        page = _page(client_for, by, "jobs:visit", triaged.pk)
        assert (TELLS in page) is (not cylinders)
