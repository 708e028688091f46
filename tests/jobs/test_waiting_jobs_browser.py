"""Jobs of the demo that wait for much at once, in both languages: their pages stay short."""

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
from playwright.sync_api import Page

from jobs.models import Question, Visit, WorkOrder
from jobs.selectors.captures import latest_judgement
from jobs.selectors.consents import repair_consent_of
from jobs.services.completion import work_order_complete
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.questions import question_answer, question_ask
from jobs.services.used import WasUsed, used_add
from jobs.services.work import work_order_accept, work_order_create
from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member, User
from tests.jobs.demo_shop import fill_demo_shop
from tests.traces.conftest import media  # noqa: F401 - a fixture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DESK, PHONE = (1280, 800), (390, 844)
MOST_OF_A_JOB, MOST_OF_AN_ORDER = 1_500, 2_600
MOST_OF_A_NEW_ORDER = {DESK: 1_500, PHONE: 2_600}
MEASURE = """() => ({
  height: document.documentElement.scrollHeight,
  wide: document.documentElement.scrollWidth - innerWidth,
  dark: [...document.querySelectorAll(".btn-primary")].filter((e) => e.checkVisibility())
        .map((e) => Math.round(e.getBoundingClientRect().bottom)),
  foot: document.querySelector(".order-foot")?.getBoundingClientRect().top ?? innerHeight,
})"""
ASKED = "The left mount is torn as well and the harness is chafed. Write it up for the customer?"
STOPPED = "The thread comes out of cylinder 3 with the plug. Go on with the leak-down or stop?"


class Measured:
    """Pages of one person, measured in both languages; what is too long is noted."""

    def __init__(self, page: Page) -> None:
        self._page = page
        self.told: list[str] = []

    def page(
        self, address: str, size: tuple[int, int], most: int | None, *, is_form: bool = False
    ) -> None:
        """Note where a page is higher than it may be, or its next step is not in sight."""
        for language in ("en", "es"):
            User.objects.update(language=language)
            self._page.set_viewport_size({"width": size[0], "height": size[1]})
            self._page.goto(address)
            found = self._page.evaluate(MEASURE)
            told = f"{address}, {language}, {size[0]} px wide: {found}"
            print(told)  # noqa: T201 - the measurement
            is_below = size == DESK and not is_form and max(found["dark"]) > found["foot"]
            is_high = most is not None and found["height"] > most
            if is_high or is_below or found["wide"] > 0 or len(found["dark"]) != 1:
                self.told.append(told)


def test_jobs_that_wait_for_much_are_short(
    signed_in_page: Callable[..., tuple[Page, list[str]]],
    media: Path,  # noqa: F811
) -> None:
    people = fill_demo_shop()
    page, complaints = signed_in_page(people[Role.DIAGNOSTICIAN])
    of_writer, _ = signed_in_page(people[Role.WRITER])
    measured, for_writer = Measured(page), Measured(of_writer)
    job = Visit.objects.get(number=2)
    order = job.work_orders.get()
    # one question, answered in the first screen
    question_ask(order=order, member=people[Role.MECHANIC], text=ASKED)
    measured.page(f"/work-orders/{order.pk}/", DESK, None)
    # stopped as well, over what was agreed
    question_ask(order=order, member=people[Role.MECHANIC], text=STOPPED, is_stop=True)
    _use(job, order, people[Role.MECHANIC])
    _measure(measured, for_writer, job, order)
    repair = _repair(job, order, people, measured)
    question_ask(order=repair, member=people[Role.MECHANIC], text=ASKED)
    question_ask(order=repair, member=people[Role.MECHANIC], text=STOPPED, is_stop=True)
    _use(job, repair, people[Role.MECHANIC])
    _measure(measured, for_writer, job, repair)
    assert complaints == []
    assert not measured.told + for_writer.told, "\n".join(measured.told + for_writer.told)


def _measure(measured: Measured, for_writer: Measured, job: Visit, order: WorkOrder) -> None:
    measured.page(f"/jobs/{job.pk}/", DESK, MOST_OF_A_JOB)
    for_writer.page(f"/jobs/{job.pk}/", DESK, MOST_OF_A_JOB)
    measured.page(f"/work-orders/{order.pk}/", DESK, None)
    measured.page(f"/work-orders/{order.pk}/", PHONE, MOST_OF_AN_ORDER)


def _use(job: Visit, order: WorkOrder, by: Member) -> None:
    used = WasUsed(minutes=500, amount=Decimal(900), what="Leak-down, gasket set")
    used_add(visit=job, member=by, order=order, used=used)


def _repair(
    job: Visit, order: WorkOrder, people: dict[Role, Member], measured: Measured
) -> WorkOrder:
    """The order of the repair that the customer agreed to, accepted; its form is short too."""
    diagnostician, mechanic = people[Role.DIAGNOSTICIAN], people[Role.MECHANIC]
    for question in Question.objects.filter(work_order=order):
        question_answer(question=question, member=diagnostician, text="Go on.")
    finding_add(
        order=order,
        member=mechanic,
        found=NewFinding(4, "leak_down", "bad", leak_percent=55, confirmed=True),
    )
    order.refresh_from_db()
    work_order_complete(order=order, member=mechanic, summary="Gasket.", left_out="Clear enough.")
    said = SaidOnRepair(
        agreed=True, said_by="Ambrose Tiller", how="phone", amount="400", scope="Head gasket"
    )
    consent_add(visit=job, member=people[Role.WRITER], said=said)
    judgement_sign(
        visit=job,
        member=diagnostician,
        run=None,
        kind="without",
        mechanical="yes",
        cylinders=[3, 4],
        reason="The gasket leaks between 3 and 4.",
    )
    for size, most in MOST_OF_A_NEW_ORDER.items():
        measured.page(f"/jobs/{job.pk}/work-order/", size, most, is_form=True)
    judgement = latest_judgement(job)
    assert judgement is not None
    repair = work_order_create(judgement=judgement, member=diagnostician)
    assert repair_consent_of(repair) is not None
    work_order_accept(order=repair, member=mechanic)
    return repair
