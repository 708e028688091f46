"""Orders that carry out what a customer agreed to."""

from dataclasses import replace
from datetime import timedelta
from html import unescape

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.core.stages import Stage
from jobs.models import Complaint, WorkOrder
from jobs.selectors.consents import consent_standing, repair_consent_of
from jobs.selectors.findings import unrecorded_tests
from jobs.selectors.order_draft import order_draft
from jobs.selectors.order_lines import wanted_lines
from jobs.selectors.work import visit_work
from jobs.services.completion import work_order_complete
from jobs.services.findings import NewFinding, finding_add
from jobs.services.triage import codes_add
from jobs.services.work import (
    OrderWords,
    work_order_accept,
    work_order_change,
    work_order_create,
    work_order_withdraw,
)
from tests.api.conftest import api_for
from tests.jobs.work.repairs import YES, again, finish, repair, say
from tests.shopdiag.page_forms import filled, forms_on
from tests.wording import says

__all__ = ["again", "api_for", "finish", "repair", "say"]


@pytest.mark.parametrize(("minutes", "asked"), [(120, False), (600, False), (2401, True)])
def test_a_repairs_minutes_are_not_those_of_the_diagnosis(
    order, finish, say, again, *, by, minutes, asked
):
    visit = order.visit
    Complaint.objects.filter(visit=visit).update(authorised_minutes=20)
    finish(order)
    say(visit)
    words = OrderWords(scope_minutes=minutes)
    judgement = again(visit)
    if asked:
        with pytest.raises(ValidationError) as refused:
            work_order_create(judgement=judgement, member=by, words=words)
        assert set(refused.value.message_dict) == {"confirmed"}
        words = replace(words, confirmed=True)
    repair = work_order_create(judgement=judgement, member=by, words=words)
    assert repair.scope_minutes == minutes
    repair.scope_minutes = 180
    assert work_order_change(
        order=repair, expected_version=repair.version, member=by, fields=["scope_minutes"]
    )


def test_more_minutes_than_authorised_are_asked_and_read_apart(signed, cast, client_for):
    Complaint.objects.filter(visit=signed.visit).update(authorised_minutes=60)
    browser = client_for(cast.owner)
    here = reverse("jobs:work-order-new", args=[signed.visit_id])
    (fresh,) = [f for f in forms_on(browser.get(here), here) if "scope_minutes" in f.names]
    asked = browser.post(here, filled(fresh, {"scope_minutes": "90"}))
    assert asked.status_code == 422
    (form,) = [f for f in forms_on(asked, here) if "scope_minutes" in f.names]
    assert browser.post(here, filled(form, {"confirmed": "on"})).status_code == 302
    order = WorkOrder.objects.get()
    assert order.scope_minutes == 90
    for name in ("jobs:work-order", "jobs:work-order-print"):
        page = browser.get(reverse(name, args=[order.pk]))
        words = page.context["minutes_words"]
        assert words.startswith("60 minutes;")
        assert words in page.content.decode(), name


@pytest.mark.parametrize(
    ("cylinders", "given", "keys"),
    [
        ((3,), {}, ["repaired_bar", "repaired_leak", "repaired_gauge"]),
        ((3,), {"mechanical": "no", "fault_group": "ignition"}, ["repaired_counts"]),
        (
            (3,),
            {"mechanical": "no", "fault_group": "valve_train"},
            ["repaired_bar", "repaired_counts"],
        ),
    ],
)
def test_a_repair_asks_for_no_test_of_the_diagnosis(
    triaged, sign, finish, *, say, again, by, client_for, cylinders, given, keys
):
    """The form, the order and its sheet ask only for what proves the repair."""
    signed = sign(triaged, None, cylinders, kind="without", reason="Seen.", **given)
    diagnosis = {t.key for t in order_draft(signed).tests}
    finish(work_order_create(judgement=signed, member=by))
    say(triaged)
    signed = again(triaged, cylinders, **given)
    browser, here = client_for(by), reverse("jobs:work-order-new", args=[triaged.pk])
    (form,) = [f for f in forms_on(browser.get(here), here) if "tests" in f.names]
    assert form.sent["tests"] == keys
    assert diagnosis.isdisjoint(keys)
    assert "Exhaust valve" in form.sent["request"][0]
    assert browser.post(here, filled(form, {})).status_code == 302
    order = WorkOrder.objects.latest("pk")
    assert ([t["key"] for t in order.tests], order.patterns, order.disproof) == (keys, [], "")
    for name in ("jobs:work-order", "jobs:work-order-print"):
        page = browser.get(reverse(name, args=[order.pk])).content.decode()
        assert says(page, "work.checks-after-repair")
        assert "Tests wanted" not in page
        assert not says(page, "work.what-would-rule-out")


def test_a_repair_without_checks_is_completed_in_words(order, finish, say, *, again, by, cast):
    finish(order)
    say(order.visit)
    words = OrderWords(tests=())
    repair = work_order_create(judgement=again(order.visit), member=by, words=words)
    work_order_accept(order=repair, member=cast.mechanic)
    with pytest.raises(ValidationError) as refused:
        work_order_complete(order=repair, member=cast.mechanic, summary=" ")
    assert set(refused.value.message_dict) == {"summary"}
    done = work_order_complete(order=repair, member=cast.mechanic, summary="Valve renewed.")
    assert done.state == WorkOrder.State.DONE


def test_a_repair_proved_by_counts_needs_no_finding_of_a_cylinder(triaged, sign, say, *, by, cast):
    """Nobody looks at the cylinder once more; the counts are of the whole engine."""
    given = {"mechanical": "no", "fault_group": "ignition", "reason": "Coil."}
    signed = sign(triaged, None, [2], kind="without", **given)
    order = work_order_create(judgement=signed, member=by)
    coil = NewFinding(2, "coil", "bad", words="No spark.")
    finding_add(order=order, member=cast.mechanic, found=coil)
    order.refresh_from_db()
    work_order_complete(order=order, member=cast.mechanic, summary="Coil.", left_out="Clear.")
    say(triaged)
    repair = work_order_create(judgement=signed, member=by)
    work_order_accept(order=repair, member=cast.mechanic)
    with pytest.raises(ValidationError) as refused:
        work_order_complete(order=repair, member=cast.mechanic, summary="Coil renewed.")
    assert set(refused.value.message_dict) == {"left_out"}
    counts = NewFinding(None, "counts", "good", words="0 in 20 minutes.")
    finding_add(order=repair, member=cast.mechanic, found=counts)
    done = work_order_complete(order=repair, member=cast.mechanic, summary="Coil renewed.")
    assert done.state == WorkOrder.State.DONE


def test_a_diagnosis_without_tests_still_needs_a_finding(signed, cast, by):
    order = work_order_create(judgement=signed, member=by, words=OrderWords(tests=()))
    work_order_accept(order=order, member=cast.mechanic)
    with pytest.raises(ValidationError):
        work_order_complete(order=order, member=cast.mechanic, summary="Looked at it.")


def test_the_card_leads_to_the_order_of_an_agreed_repair(order, finish, say, client_for, by):
    """The verdict that was agreed to has it without being signed again."""
    visit = order.visit
    browser = client_for(by)
    card, new = (reverse(f"jobs:{name}", args=[visit.pk]) for name in ("visit", "work-order-new"))

    def leads() -> bool:
        page = browser.get(card)
        work = page.context["work"]
        assert (f'href="{new}"' in page.content.decode()) is work.may_order
        return bool(work.may_order and work.is_repair_next)

    assert not leads()
    finish(order)
    assert not leads()
    say(visit)
    assert leads()
    (form,) = [f for f in forms_on(browser.get(new), new) if "tests" in f.names]
    for _ in range(2):
        assert browser.post(new, filled(form, {})).status_code == 302
    repair = WorkOrder.objects.latest("pk")
    assert [o.pk for o in order.judgement.work_orders.order_by("pk")] == [order.pk, repair.pk]
    assert repair_consent_of(repair) == consent_standing(visit)
    assert repair_consent_of(order) is None
    assert not leads()
    finish(repair)
    visit.refresh_from_db()
    assert visit.stage == Stage.VERIFY
    assert not leads()
    # another yes is one to another repair
    say(visit, replace(YES, scope="Valve guides"))
    assert leads()


def test_a_form_of_the_diagnosis_sent_again_makes_no_repair(order, finish, say, client_for, by):
    visit = order.visit
    browser, new = client_for(by), reverse("jobs:work-order-new", args=[visit.pk])
    WorkOrder.objects.filter(pk=order.pk).delete()
    (form,) = [f for f in forms_on(browser.get(new), new) if "tests" in f.names]
    browser.post(new, filled(form, {}))
    made = WorkOrder.objects.get()
    finish(made)
    say(visit)
    again = browser.post(new, filled(form, {}))
    assert again["Location"] == reverse("jobs:work-order", args=[made.pk])
    assert WorkOrder.objects.get() == made
    with pytest.raises(ValidationError):
        work_order_create(judgement=made.judgement, member=by, words=OrderWords(for_repair=False))


def test_the_repair_is_of_what_was_found_bad(triaged, run_of, sign, say, *, by, cast):
    """Of a verdict that left open which cylinder it is."""
    run = run_of(triaged, candidates=[(3,), (4,)], known=False)
    order = work_order_create(judgement=sign(triaged, run, [3, 4]), member=by)
    work_order_accept(order=order, member=cast.mechanic)
    for cylinder, outcome, kpa in ((3, "good", 1150), (4, "bad", 620)):
        found = NewFinding(cylinder, "gauge_dry", outcome, kpa)
        finding_add(order=order, member=cast.mechanic, found=found)
    order.refresh_from_db()
    work_order_complete(order=order, member=cast.mechanic, summary="4.", left_out="Clear.")
    say(triaged)
    repair = work_order_create(judgement=order.judgement, member=by)
    assert repair.cylinders == [4]
    assert [place["cylinder"] for place in repair.places] == [4]
    assert "cylinder 4:" in repair.request
    # it was left open until it was measured, and is no longer
    assert says(repair.confidence, "order_draft.tests-diagnosis-found-bad", cylinders="cylinder 4")
    assert "Not settled" not in repair.confidence


def test_a_repair_of_another_cylinder_than_was_found_bad_is_signed_first(
    order, say, client_for, *, by, cast
):
    visit = order.visit
    for cylinder, outcome, kpa in ((1, "bad", 640), (3, "good", 1190)):
        found = NewFinding(cylinder, "gauge_dry", outcome, kpa, confirmed=True)
        finding_add(order=order, member=cast.mechanic, found=found)
    order.refresh_from_db()
    work_order_complete(order=order, member=cast.mechanic, summary="1.", left_out="Clear.")
    say(visit)
    work = visit_work(by, visit)
    assert (work.may_order, work.has_repair_to_order) == (False, True)
    with pytest.raises(ValidationError):
        work_order_create(judgement=order.judgement, member=by)
    new = client_for(by).get(reverse("jobs:work-order-new", args=[visit.pk]))
    assert new["Location"] == reverse("jobs:decide", args=[visit.pk])


def test_a_repair_that_was_withdrawn_asks_for_a_new_verdict(order, finish, say, client_for, by):
    visit = order.visit
    finish(order)
    say(visit)
    repair = work_order_create(judgement=order.judgement, member=by)
    work_order_withdraw(order=repair, member=by, reason="Parts are late.")
    page = client_for(by).get(reverse("jobs:visit", args=[visit.pk]))
    assert page.context["work"].has_repair_to_order
    assert not page.context["work"].may_order
    assert reverse("jobs:decide", args=[visit.pk]) in page.content.decode()
    with pytest.raises(ValidationError):
        work_order_create(judgement=order.judgement, member=by)


def test_a_clock_that_steps_back_takes_no_yes_away(order, finish, say, by):
    visit = order.visit
    finish(order)
    said = say(visit)
    repair = work_order_create(judgement=order.judgement, member=by)
    WorkOrder.objects.filter(pk=repair.pk).update(created_at=said.at - timedelta(hours=1))
    repair.refresh_from_db()
    assert repair_consent_of(repair) == said
    finish(repair)
    assert consent_standing(visit) == said


def test_what_speaks_against_the_verdict_stands_above_the_form(order, cast, client_for):
    """Before the customer is called: codes and counts of another cylinder, tests bad beside it."""
    address = reverse("jobs:consent-add", args=[order.visit_id])
    browser = client_for(cast.writer)
    plain = browser.get(address)
    assert (plain.context["beside"], plain.context["found_elsewhere"]) == ((), "")
    codes_add(visit=order.visit, text="P0302 stored", member=cast.diagnostician)
    work_order_accept(order=order, member=cast.mechanic)
    found = NewFinding(2, "gauge_dry", "bad", 620)
    finding_add(order=order, member=cast.mechanic, found=found)
    page = browser.get(address)
    assert page.context["beside"]
    for sentence in (*page.context["beside"], page.context["found_elsewhere"]):
        assert sentence in unescape(page.content.decode())
    # They stand there too when the form comes back.
    assert browser.post(address, {}).context["found_elsewhere"]


@pytest.mark.parametrize(("whose", "needs_help"), [("mechanic", True), ("diagnostician", False)])
def test_a_capture_is_wanted_of_those_who_may_record_one(
    order, finish, say, *, cast, by, client_for, whose, needs_help
):
    finish(order)
    say(order.visit)
    words = OrderWords(assigned_to=getattr(cast, whose), tests=("repaired_capture",))
    repair = work_order_create(judgement=order.judgement, member=by, words=words)
    (line,) = wanted_lines(repair, ())
    assert bool(line.others_do) == needs_help
    lacks = unrecorded_tests(repair)
    assert bool(lacks) != needs_help
    browser = client_for(by)
    for name in ("work-order", "work-order-print"):
        page = browser.get(reverse(f"jobs:{name}", args=[repair.pk])).content.decode()
        assert not needs_help or line.others_do in page
