"""A verdict of another group carries its cylinder wherever it is told."""

import pytest
from django.urls import reverse

from jobs.core.groups import EVEN_LEAVES_OPEN, FaultGroup
from jobs.models import TimelineEvent
from jobs.services.judgements import judgement_sign
from jobs.services.work import work_order_create
from jobs.views.work import plan_of

WITHOUT = {FaultGroup.COMPRESSION, FaultGroup.UNSETTLED, FaultGroup.NONE_FOUND}
GROUPS = [g.value for g in FaultGroup if g not in WITHOUT]


@pytest.mark.parametrize("group", GROUPS)
def test_everywhere(triaged, run_of, by, client_for, group):
    run = run_of(triaged, {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0}, verdict="even", candidates=[()])
    judgement = judgement_sign(
        visit=triaged,
        member=by,
        kind="accepted",
        mechanical="no",
        run=run,
        cylinders=[2],
        fault_group=group,
        reason="It moved with the part.",
    )
    line = TimelineEvent.objects.get(visit=triaged, kind="judgement")
    assert "cylinder 2" in line.words
    assert "suspect" not in line.words
    browser = client_for(by)
    pages = {
        name: browser.get(reverse(name, args=[triaged.pk])).content.decode().lower()
        for name in ("jobs:visit", "jobs:decide", "jobs:work-order-new")
    }
    order = work_order_create(judgement=judgement, member=by)
    assert order.cylinders == [2]
    for name in ("jobs:work-order", "jobs:work-order-print"):
        pages[name] = browser.get(reverse(name, args=[order.pk])).content.decode().lower()
    pages["jobs:work-orders"] = browser.get(reverse("jobs:work-orders")).content.decode().lower()
    pages["jobs:customer-copy"] = (
        browser.get(reverse("jobs:customer-copy", args=[triaged.pk])).content.decode().lower()
    )
    missing = [name for name, page in pages.items() if "cylinder 2" not in page]
    assert missing == []
    assert not [name for name, page in pages.items() if "no cylinder named" in page]


def test_nowhere_as_low(triaged, run_of, by, client_for):
    run = run_of(triaged, {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0}, verdict="even", candidates=[()])
    judgement = judgement_sign(
        visit=triaged,
        member=by,
        kind="accepted",
        mechanical="no",
        run=run,
        cylinders=[2],
        fault_group="ignition",
    )
    order = work_order_create(judgement=judgement, member=by)
    plan = plan_of(order)
    assert plan
    assert [(c.number, c.mark) for c in plan.cylinders if c.mark] == [(2, "misfires")]
    browser = client_for(by)
    form = browser.get(reverse("jobs:finding-add", args=[order.pk])).context["form"]
    assert dict(form.fields["cylinder"].choices)[2] == "2 (misfires)"
    sheet = browser.get(reverse("jobs:work-order-print", args=[order.pk])).content.decode()
    assert "<h2>Suspect</h2>" not in sheet
    assert EVEN_LEAVES_OPEN in sheet
