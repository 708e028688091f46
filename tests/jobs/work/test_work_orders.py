"""A work order is made in one step, accepted once, withdrawn with a reason."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.core.stages import Stage
from jobs.models import TimelineEvent, WorkOrder
from jobs.selectors.order_draft import order_draft
from jobs.services.judgements import judgement_sign
from jobs.services.triage import codes_add, misfires_set
from jobs.services.work import (
    OrderWords,
    work_order_accept,
    work_order_change,
    work_order_create,
    work_order_withdraw,
)
from shopdiag.people.models import Member
from shopdiag.people.services import SavedMeanwhileError
from tests.api.conftest import api_for
from tests.wording import says, says_only, wording
from traces.core.report.starter_figures import StarterFigures

__all__ = ["api_for"]


def filled(page):
    """Return what the browser would send from a page's form as it stands."""
    form = page.context["form"]
    return {name: value for name in form.fields if (value := form[name].value()) not in (None, "")}


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


def test_one_press_makes_it(browser, signed, by):
    address = reverse("jobs:work-order-new", args=[signed.visit_id])
    page = browser.get(address)
    response = browser.post(address, filled(page))
    order = WorkOrder.objects.get()
    assert response.headers["Location"] == reverse("jobs:work-order", args=[order.pk])
    assert says_only(order.request, "request.find-why-low", cylinders="cylinder 3")
    assert order.cylinders == [3]
    assert order.places == [{"cylinder": 3, "words": wording("positions.third-from-front")}]
    assert order.firing_order == "1-3-4-2"
    assert "Stamped on the cover" in order.firing_source
    assert [t["key"] for t in order.tests] == [
        *("repeat_once", "leak_down", "borescope", "seats", "gauge_dry", "gauge_wet", "valves")
    ]
    assert "57 %" in order.confidence
    assert says(order.confidence.splitlines()[1], "request.settled-sync-holds-if")
    assert says(order.sync_proof, "sync_note.event-cylinder", count=9, event="ignition", cylinder=1)
    assert "channel coil" in order.sync_proof
    assert "cylinder 2, the 360° companion" in order.disproof
    assert "Cranking sound: uneven." in order.tests_done
    assert order.cautions
    assert order.gauge_rule["source"]
    signed.visit.refresh_from_db()
    assert signed.visit.stage == Stage.WORK
    line = TimelineEvent.objects.get(kind="work_order")
    assert says_only(line.words, "work.made-work-order", which=" on cylinder 3")
    made = {"work_order": signed.work_orders.get().pk, "cylinders": [3]}
    assert line.data.items() >= made.items()
    assert line.by == by


def test_sent_twice_makes_one(browser, signed):
    address = reverse("jobs:work-order-new", args=[signed.visit_id])
    sent = filled(browser.get(address))
    first, second = browser.post(address, sent), browser.post(address, sent)
    assert first.headers["Location"] == second.headers["Location"]
    assert WorkOrder.objects.count() == 1
    assert TimelineEvent.objects.filter(kind="work_order").count() == 1


def test_what_the_person_changed_is_kept(browser, signed, cast):
    address = reverse("jobs:work-order-new", args=[signed.visit_id])
    sent = filled(browser.get(address)) | {
        "request": "Look at cylinder 3 with the borescope only.",
        "tests": ["borescope"],
        "scope_minutes": "30",
        "assigned_to": cast.mechanic.pk,
    }
    browser.post(address, sent)
    order = WorkOrder.objects.get()
    assert order.request == "Look at cylinder 3 with the borescope only."
    assert [t["key"] for t in order.tests] == ["borescope"]
    assert order.scope_minutes == 30
    assert order.assigned_to == cast.mechanic


def test_a_mistake_loses_nothing(browser, signed):
    address = reverse("jobs:work-order-new", args=[signed.visit_id])
    sent = filled(browser.get(address)) | {"tests": [], "scope": "Only the plugs come out."}
    response = browser.post(address, sent)
    assert response.status_code == 422
    assert says(response.content.decode(), "work.keep-least-one-test")
    assert response.context["form"]["scope"].value() == "Only the plugs come out."


def test_people_of_another_shop_or_trade_are_no_choice(browser, signed, cast):
    address = reverse("jobs:work-order-new", args=[signed.visit_id])
    offered = set(browser.get(address).context["form"].fields["assigned_to"].queryset)
    assert offered == {cast.mechanic, cast.diagnostician, cast.owner}
    for stranger in (cast.outsider, cast.writer):
        with pytest.raises(ValidationError) as refused:
            work_order_create(
                judgement=signed, member=cast.diagnostician, words=OrderWords(assigned_to=stranger)
            )
        assert says(refused.value, "work.person-does-no-work")


def test_without_a_verdict_the_page_leads_to_one(browser, triaged):
    response = browser.get(reverse("jobs:work-order-new", args=[triaged.pk]))
    assert response.headers["Location"] == reverse("jobs:decide", args=[triaged.pk])


def test_a_later_verdict_replaces_the_one_on_the_page(browser, signed, by):
    address = reverse("jobs:work-order-new", args=[signed.visit_id])
    sent = filled(browser.get(address))
    later = judgement_sign(
        visit=signed.visit,
        member=by,
        kind="without",
        mechanical="yes",
        cylinders=[2],
        reason="The plug of 3 out changed nothing.",
    )
    assert browser.post(address, sent).headers["Location"] == address
    assert not WorkOrder.objects.exists()
    with pytest.raises(ValidationError) as refused:
        work_order_create(judgement=signed, member=by)
    assert says(refused.value, "work.later-verdict-signed-meanwhile")
    assert work_order_create(judgement=later, member=by).cylinders == [2]


def test_one_open_order_at_a_time(order, by):
    later = judgement_sign(
        visit=order.visit, member=by, kind="without", mechanical="yes", reason="Again."
    )
    with pytest.raises(ValidationError) as refused:
        work_order_create(judgement=later, member=by)
    assert says(refused.value, "work.another-work-order-job")
    work_order_withdraw(order=order, member=by, reason="Wrong cylinder.")
    again = work_order_create(judgement=later, member=by)
    assert again.cylinders == []
    assert says_only(again.request, "request.measure-compression-every-cylinder")


def test_withdrawing_needs_a_reason_and_stays_on_record(browser, order):
    address = reverse("jobs:work-order-withdraw", args=[order.pk])
    page = browser.post(address, {"reason": " "}, follow=True)
    assert says(page.content.decode(), "work.say-why-work-order")
    page = browser.post(address, {"reason": "The customer said no."}, follow=True)
    assert "The customer said no." in page.content.decode()
    order.refresh_from_db()
    assert order.state == "withdrawn"
    assert TimelineEvent.objects.filter(words__contains="The customer said no.").count() == 1
    browser.post(address, {"reason": "Twice."})
    order.refresh_from_db()
    assert order.withdrawn_why == "The customer said no."


def test_a_withdrawn_verdict_is_signed_again_first(order, signed, by):
    work_order_withdraw(order=order, member=by, reason="Not now.")
    with pytest.raises(ValidationError) as refused:
        work_order_create(judgement=signed, member=by)
    assert says(refused.value, "work.work-order-verdict-withdrawn")


def test_two_mechanics_the_second_is_told(client_for, order, cast):
    second = Member.objects.create(shop=cast.shop, user=cast.outsider.user, role=cast.mechanic.role)
    address = reverse("jobs:work-order-accept", args=[order.pk])
    assert "is yours" in client_for(cast.mechanic).post(address, follow=True).content.decode()
    page = client_for(second).post(address, follow=True).content.decode()
    assert says(page, "work.took-work-order-ask", accepted_by="Mika Mech")
    order.refresh_from_db()
    assert order.accepted_by == cast.mechanic
    assert TimelineEvent.objects.filter(words=wording("work.accepted-work-order")).count() == 1
    assert work_order_accept(order=order, member=cast.mechanic).accepted_by == cast.mechanic
    assert TimelineEvent.objects.filter(words=wording("work.accepted-work-order")).count() == 1


def test_the_race_is_settled_by_the_database(order, cast):
    """Both hold the row as it was when open; only one UPDATE finds it so."""
    stale = WorkOrder.objects.get(pk=order.pk)
    work_order_accept(order=order, member=cast.mechanic)
    with pytest.raises(ValidationError) as refused:
        work_order_accept(order=stale, member=cast.owner)
    assert says(refused.value, "work.took-work-order-ask")


def test_an_order_for_somebody_else_is_not_taken(order, cast, by):
    WorkOrder.objects.filter(pk=order.pk).update(assigned_to=cast.owner)
    with pytest.raises(ValidationError, match="is for Olive Owner"):
        work_order_accept(order=order, member=cast.mechanic)
    # Whoever orders work may take it all the same.
    assert work_order_accept(order=order, member=by).accepted_by == by


def test_two_edits_the_second_is_told_and_keeps_his(client_for, order, cast, by):
    address = reverse("jobs:work-order-edit", args=[order.pk])
    first, second = client_for(by), client_for(cast.owner)
    opened = {name: str(v) for name, v in filled(first.get(address)).items()}
    late = {name: str(v) for name, v in filled(second.get(address)).items()}
    assert first.post(address, {**opened, "scope": "Plugs out."}).status_code == 302
    response = second.post(address, {**late, "scope": "Plugs and cover off."})
    assert response.status_code == 409
    page = response.content.decode()
    assert "Plugs out." in page
    assert "Plugs and cover off." in page
    assert "Dana Diag" in page
    order.refresh_from_db()
    assert order.scope == "Plugs out."
    again = {n: str(v) for n, v in filled(response).items()}
    assert second.post(address, again).status_code == 302
    order.refresh_from_db()
    assert order.scope == "Plugs and cover off."


def test_a_stale_version_is_refused_by_the_service(order, by):
    order.scope = "x"
    with pytest.raises(SavedMeanwhileError):
        work_order_change(order=order, expected_version=7, member=by, fields=["scope"])


def test_a_finished_order_stays_as_it_is(order, by):
    work_order_withdraw(order=order, member=by, reason="No.")
    order.scope = "x"
    with pytest.raises(ValidationError) as refused:
        work_order_change(order=order, expected_version=order.version, member=by, fields=["scope"])
    assert says(refused.value, "work.work-order-stays")


def test_what_was_done_is_told(signed, by):
    codes_add(visit=signed.visit, text="P0303 stored\nP0300 pending", member=by)
    misfires_set(visit=signed.visit, counts={1: 0, 3: 143}, period="one drive", member=by)
    done = " ".join(order_draft(signed).tests_done)
    assert "P0300 (pending), P0303 (stored)" in done
    assert "cyl. 3: 143" in done
    assert says(done, "tests_done.cranking-captures-analysed-could", count=1, count_2=1)


def test_page_and_sheet_say_how_the_engine_was_cranked(client_for, order, cast):
    run = order.judgement.run
    addresses = [reverse(f"jobs:work-order{end}", args=[order.pk]) for end in ("", "-print")]
    before = [client_for(cast.mechanic).get(a).content.decode() for a in addresses]
    assert not any("178 rpm" in page for page in before)
    figures = StarterFigures(mean_current_a=182.4, cranking_rpm=178.2)
    run.result = run.result | {"starter": figures.to_json()}
    run.save(update_fields=["result"])
    for address in addresses:
        page = client_for(cast.mechanic).get(address).content.decode()
        assert "178 rpm, 182 A " in page


def test_a_drag_once_a_turn_is_looked_for_where_it_makes_a_pair_look_low(triaged, by, run_of):
    run = run_of(triaged, {1: 0.5, 2: 1.0, 3: 1.0, 4: 0.6})
    judgement = judgement_sign(
        visit=triaged, member=by, kind="accepted", mechanical="yes", run=run, cylinders=[1, 4]
    )
    keys = [t.key for t in order_draft(judgement).tests]
    assert keys[:3] == ["repeat_once", "bind", "leak_down"]
    assert "sync" not in keys


def test_what_the_sync_leaves_open_is_asked_as_a_question(triaged, by, run_of):
    figures = {1: 0.5, 2: 1.0, 3: 1.0, 4: 1.0}
    run = run_of(triaged, figures, candidates=[(1,), (4,)], known=False)
    judgement = judgement_sign(
        visit=triaged, member=by, kind="accepted", mechanical="yes", run=run, cylinders=[1, 4]
    )
    draft = order_draft(judgement)
    assert says(draft.request, "request.out-whether-low", either="cylinder 1 or cylinder 4")
    assert says_only(draft.patterns[0].meaning.name, "jobs/patterns:open.name")
    assert draft.tests[0].key == "sync"
    assert says(
        draft.confidence, "request.good-cylinders-95-interval", whose="One of them", relative="50 %"
    )


def test_a_high_cylinder_stops_the_cranking(triaged, by, run_of):
    run = run_of(triaged, {1: 1.0, 2: 1.0, 3: 1.4, 4: 0.7})
    judgement = judgement_sign(
        visit=triaged, member=by, kind="accepted", mechanical="yes", run=run, cylinders=[4]
    )
    draft = order_draft(judgement)
    assert draft.tests[0].key == "stop"
    assert says(
        draft.request, "request.look-liquid-before-cranking", high="cylinder 3", low="cylinder 4"
    )
    assert "liquid" in draft.cautions[1]


def test_a_fast_even_crank_asks_for_timing_and_an_absolute_gauge(triaged, by, run_of):
    triaged.triage.cranks = "fast"
    triaged.triage.save()
    run = run_of(triaged, {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0})
    judgement = judgement_sign(
        visit=triaged, member=by, kind="accepted", mechanical="unsure", run=run
    )
    draft = order_draft(judgement)
    assert says_only(draft.patterns[0].meaning.name, "jobs/patterns:fast_even.name")
    assert [t.key for t in draft.tests][:2] == ["timing", "bind"]


def test_a_diesel_hybrid_has_its_own_cautions(take_in, four, by, run_of):
    visit = take_in(by, engine=four, drive="belt")
    run = run_of(visit, fuel="diesel")
    judgement = judgement_sign(
        visit=visit, member=by, kind="accepted", mechanical="yes", run=run, cylinders=[3]
    )
    draft = order_draft(judgement)
    cautions = " ".join(draft.cautions)
    assert "orange cables" in cautions
    assert "rail pressure" in cautions
    assert draft.gauge_rule.key == "diesel-80"


def test_without_an_engine_it_can_still_be_ordered(take_in, by):
    visit = take_in(by)
    judgement = judgement_sign(
        visit=visit,
        member=by,
        kind="without",
        mechanical="yes",
        cylinders=[2],
        reason="Plug 2 is wet and the gauge barely moves.",
    )
    order = work_order_create(judgement=judgement, member=by)
    assert order.places == [{"cylinder": 2, "words": ""}]
    assert order.firing_order == ""


def test_the_mechanics_page_shows_the_cylinder_and_no_customer(client_for, order, cast):
    order.visit.vehicle.customer.name = "Casey Secret"
    order.visit.vehicle.customer.phone = "030 99887766"
    order.visit.vehicle.customer.email = "casey@example.org"
    order.visit.vehicle.customer.save()
    browser = client_for(cast.mechanic)
    for name in (
        "jobs:work-order",
        "jobs:work-order-print",
        "jobs:work-orders",
        "jobs:finding-add",
    ):
        args = [] if name == "jobs:work-orders" else [order.pk]
        page = browser.get(reverse(name, args=args)).content.decode()
        for secret in ("Casey Secret", "99887766", "casey@example.org"):
            assert secret not in page
    page = browser.get(reverse("jobs:work-order", args=[order.pk])).content.decode()
    assert page.index("suspect-number") < page.index("Tests wanted")
    assert says(page, "positions.third-from-front")
    assert says(page, "positions.front-end-opposite-flywheel")
