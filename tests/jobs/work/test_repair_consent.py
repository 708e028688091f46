"""The customer's yes, the order that carries it out, and orders it does not cover."""

from dataclasses import replace

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.core.after_repair import STOP_OPENED_REPAIR
from jobs.core.next_step import Step
from jobs.core.next_step_words import WORDS
from jobs.core.stages import Stage
from jobs.models import Complaint, WorkOrder
from jobs.selectors.board import board_of
from jobs.selectors.consents import consent_standing, repair_consent_of, yes_falls_short
from jobs.selectors.order_draft import STOP_AND_CALL, order_draft
from jobs.selectors.visit_facts import visit_facts
from jobs.selectors.work import visit_work
from jobs.services.visits import visit_move
from jobs.services.work import (
    work_order_create,
    work_order_withdraw,
)
from tests.api.conftest import api_for
from tests.jobs.work.repairs import YES, again, finish, repair, say

__all__ = ["again", "api_for", "finish", "repair", "say"]


def waiting(member):
    return [w.words for w in board_of(member).waiting]


def test_the_order_of_the_repair_does_not_count_against_the_yes(
    repair, finish, cast, client_for, by
):
    visit = repair.visit
    said = consent_standing(visit)
    assert said is not None
    assert repair_consent_of(repair) == said
    finish(repair)
    visit.refresh_from_db()
    assert consent_standing(visit) == said
    assert not visit_work(by, visit).awaits_consent
    assert waiting(cast.writer) == []
    # what was agreed is repaired: nobody has to say so once more, and it waits for nobody
    assert visit.stage == Stage.VERIFY
    assert waiting(cast.mechanic) == []


MORE = replace(YES, amount="700")


def test_a_yes_during_the_repair_covers_it(repair, finish, say, cast, by):
    visit = repair.visit
    more = say(visit, MORE)
    assert yes_falls_short(more) == ""
    assert visit_work(by, visit).yes_falls_short == ""
    finish(repair)
    assert consent_standing(visit) == more
    work = visit_work(by, visit)
    assert work.consent == more
    assert not work.awaits_consent
    # nothing is left to order: what was agreed is repaired
    assert not work.may_order
    assert not work.has_repair_to_order
    visit.refresh_from_db()
    assert visit.stage == Stage.VERIFY
    assert visit_facts(visit).has_consent


def test_each_further_yes_covers_the_repair_that_is_out(repair, finish, say):
    for amount in ("500", "600"):
        say(repair.visit, replace(YES, amount=amount))
    finish(repair)
    said = consent_standing(repair.visit)
    assert said is not None
    assert said.amount.startswith("600")


def test_a_yes_during_a_diagnosis_does_not_cover_it(repair, finish, say, again, by):
    visit = repair.visit
    finish(repair)
    other = work_order_create(judgement=again(visit, [1]), member=by)
    assert yes_falls_short(say(visit, MORE))
    finish(other)
    assert consent_standing(visit) is None


def test_a_yes_after_a_withdrawn_repair_may_be_ordered(repair, say, by):
    more = say(repair.visit, MORE)
    work_order_withdraw(order=repair, member=by, reason="Part late.")
    assert visit_work(by, repair.visit).may_order
    assert repair_consent_of(work_order_create(judgement=repair.judgement, member=by)) == more


def test_the_order_of_a_repair_leaves_the_job_at_the_repair(repair, by, cast):
    visit = repair.visit
    visit.refresh_from_db()
    assert visit.stage == Stage.VERIFY
    work_order_withdraw(order=repair, member=by, reason="Part late.")
    visit.refresh_from_db()
    assert visit.stage == Stage.VERIFY


def test_a_repair_ordered_from_further_back_is_a_repair(order, finish, say, again, by):
    visit = order.visit
    finish(order)
    say(visit)
    visit.refresh_from_db()
    visit_move(visit=visit, to=Stage.DECIDE, member=by, reason="Look again.")
    work_order_create(judgement=again(visit), member=by)
    visit.refresh_from_db()
    assert visit.stage == Stage.VERIFY


def test_an_agreed_repair_waits_for_whoever_orders_it(order, finish, say, cast, by):
    finish(order)
    say(order.visit)
    assert waiting(cast.mechanic) == []
    assert waiting(by) == [WORDS[Step.ORDER_REPAIR].label]


def test_another_diagnosis_ends_the_yes(repair, finish, again, by, cast):
    visit = repair.visit
    finish(repair)
    other = work_order_create(judgement=again(visit, [1]), member=by)
    assert repair_consent_of(other) is None
    finish(other)
    assert consent_standing(visit) is None
    assert waiting(cast.writer) == [WORDS[Step.CALL].label]
    with pytest.raises(ValidationError):
        visit_move(visit=visit, to=Stage.VERIFY, member=by, reason="x")
    # the old yes does not come back with a verdict like the old one
    assert not order_draft(again(visit, [3])).is_repair


@pytest.mark.parametrize("is_out", [False, True])
def test_a_yes_before_any_findings_makes_no_order_a_repair(
    order, finish, say, *, again, by, is_out
):
    visit, signed = order.visit, order.judgement
    Complaint.objects.filter(visit=visit).update(authorised_minutes=60)
    if not is_out:
        WorkOrder.objects.filter(pk=order.pk).delete()
    said = say(visit)
    assert yes_falls_short(said)
    assert visit_work(by, visit).yes_falls_short
    if not is_out:
        draft = order_draft(signed)
        assert (draft.is_repair, draft.scope_minutes) == (False, 60)
        assert draft.stop_and_call == str(STOP_AND_CALL)
        assert draft.yes_falls_short
        order = work_order_create(judgement=signed, member=by)
    finish(order)
    assert consent_standing(visit) is None
    assert not order_draft(again(visit)).is_repair


@pytest.mark.parametrize(
    ("cylinders", "given", "is_repair"),
    [
        ((3,), {}, True),
        ((1,), {}, False),
        ((3,), {"mechanical": "no", "fault_group": "ignition"}, False),
    ],
)
def test_a_yes_is_one_to_what_was_signed(
    order, finish, say, again, *, cast, by, cylinders, given, is_repair
):
    visit = order.visit
    finish(order)
    said = say(visit)
    draft = order_draft(again(visit, cylinders, **given))
    assert draft.is_repair is is_repair
    assert (draft.stop_and_call == STOP_OPENED_REPAIR) is is_repair
    assert bool(draft.yes_falls_short) is not is_repair
    assert bool(yes_falls_short(said)) is not is_repair
    type(visit).objects.filter(pk=visit.pk).update(stage=Stage.WORK)
    assert waiting(cast.writer) == ([] if is_repair else [WORDS[Step.CALL].label])
    visit.refresh_from_db()
    if is_repair:
        visit_move(visit=visit, to=Stage.VERIFY, member=by, reason="x")
    else:
        with pytest.raises(ValidationError):
            visit_move(visit=visit, to=Stage.VERIFY, member=by, reason="x")
        # a yes to the new verdict counts
        say(visit, replace(YES, scope="What was found since"))
        assert order_draft(visit.judgements.order_by("-pk")[0]).is_repair


def test_pages_and_programs_tell_what_a_yes_does_not_cover(signed, cast, client_for, api_for, by):
    visit = signed.visit
    body = {"agreed": True, "said_by": "Casey", "how": "phone"}
    here = reverse("api:consents", args=[visit.pk])
    noted = api_for(cast.writer).post(here, body).json()
    sentence = yes_falls_short(consent_standing(visit))
    assert sentence
    assert noted["falls_short"] == sentence
    for page in ("jobs:visit", "jobs:work-order-new"):
        shown = client_for(by).get(reverse(page, args=[visit.pk])).content.decode()
        assert sentence in shown, page
