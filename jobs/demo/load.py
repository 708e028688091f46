"""Bring the demo shop to life through the services that the pages use.

The first part needs no worker; the rest goes on, visit by visit, as results come in. Each step
looks at what is there and does what is missing, so a start that was broken off is taken up.
"""

from collections.abc import Callable

from django.db import transaction

from engines.models import Engine
from jobs.core.stages import Stage
from jobs.demo.captures import (
    idle_setup_of,
    pressure_setup_of,
    record,
    record_idle,
    record_pressure,
    scenario_of,
    setup_of,
)
from jobs.demo.stories import STORIES
from jobs.demo.story import PASSWORD, PEOPLE, SHOP, DemoCrank, DemoFinding, DemoPressure, Story
from jobs.models import (
    Complaint,
    Customer,
    CylinderFinding,
    Judgement,
    Vehicle,
    Visit,
    VisitCapture,
    WorkOrder,
)
from jobs.services import findings as finding_services
from jobs.services.captures import visit_captures_add
from jobs.services.completion import work_order_complete
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.findings import finding_add
from jobs.services.intake import visit_open
from jobs.services.judgements import judgement_sign
from jobs.services.outcome import outcome_change, outcome_of
from jobs.services.swaps import Swapped, swap_add
from jobs.services.triage import codes_add, misfires_set, triage_change, triage_of
from jobs.services.visits import visit_move
from jobs.services.work import work_order_accept, work_order_create
from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member, Shop, User
from shopdiag.people.services import member_add
from traces.models import Run, Work
from traces.services import Conditions, run_add


def demo_shop() -> Shop | None:
    """Return the demo shop, if it is there."""
    return Shop.objects.filter(name=SHOP).first()


def staff(shop: Shop) -> dict[Role, Member]:
    """Return the demo shop's people by role."""
    names = {username: role for role, username, _ in PEOPLE}
    members = Member.objects.filter(shop=shop, user__username__in=names).select_related("user")
    return {names[m.user.username]: m for m in members}


def begin(say: Callable[[str], None]) -> bool:
    """Create shop, people, visits and captures; return whether there was anything to do.

    An installation that has another shop already is left alone.
    """
    shop = demo_shop()
    if shop is None and Shop.objects.exists():
        return False
    visits = _visits(shop) if shop else []
    if len(visits) < len(STORIES):
        with transaction.atomic():
            shop = shop or _open_shop()
            people = staff(shop)
            visits += [_take_in(story, people) for story in STORIES[len(visits) :]]
    missing = [
        (story, visit)
        for story, visit in zip(STORIES, visits, strict=True)
        if not visit.visit_captures.exists()
    ]
    if not missing or shop is None:
        return False
    say(f"Recording {len(missing)} demo captures with the simulator …")
    files = record([story.crank for story, _ in missing])
    for (story, visit), file in zip(missing, files, strict=True):
        idle = [record_idle(story.crank, story.idle)] if story.idle else []
        pressures = [record_pressure(pressure) for pressure in story.pressures]
        visit_captures_add(
            visit=visit, member=staff(shop)[Role.DIAGNOSTICIAN], uploads=[file, *idle, *pressures]
        )
    return True


def carry_on() -> int:
    """Do what can be done now; return how many visits still wait for the worker."""
    shop = demo_shop()
    if shop is None:
        return 0
    people = staff(shop)
    if len(people) < len(PEOPLE):
        return 0
    visits = _visits(shop)
    return sum(_go_on(story, visit, people) for story, visit in zip(STORIES, visits, strict=False))


def _visits(shop: Shop) -> list[Visit]:
    """Return the story's visits in its order; whoever tries the demo may have opened more."""
    return list(Visit.objects.filter(shop=shop).order_by("number")[: len(STORIES)])


def _open_shop() -> Shop:
    shop = Shop.objects.create(
        name=SHOP, address="7 Tern Lane", phone="555 0100", pressure_unit=Shop.PressureUnit.KPA
    )
    for role, username, name in PEOPLE:
        if User.objects.filter(username=username).exists():
            continue
        member_add(shop=shop, name=name, username=username, role=role, password=PASSWORD)
    return shop


def _take_in(story: Story, people: dict[Role, Member]) -> Visit:
    writer, diag = people[Role.WRITER], people[Role.DIAGNOSTICIAN]
    visit = visit_open(
        member=writer,
        customer=Customer(**story.customer),
        vehicle=Vehicle(**story.vehicle, engine=_engine_of(story.crank, diag)),
        complaint=Complaint(**story.complaint),
        odometer=story.odometer,
    )
    triage = triage_of(visit=visit)
    triage.verified = "yes"
    triage.cranks = story.cranks
    triage.battery_v = story.battery_v
    triage.remarks = story.remarks
    for name, value in story.triage.items():
        setattr(triage, name, value)
    triage_change(triage=triage, expected_version=1, member=diag)
    if story.codes:
        codes_add(visit=visit, text=story.codes, member=diag)
    if story.misfires:
        misfires_set(visit=visit, counts=story.misfires, member=diag, period="this drive cycle")
    return visit


def _engine_of(crank: DemoCrank, member: Member) -> Engine:
    order = scenario_of(crank).engine.firing_order
    candidates = Engine.objects.seen_by(member).in_use().filter(shop=None, firing_order=str(order))
    return next(e for e in candidates if e.order.tdc_angles_deg == order.tdc_angles_deg)


def _go_on(story: Story, visit: Visit, people: dict[Role, Member]) -> bool:
    """Take one visit as far as its story and the worker allow; return whether it waits."""
    if visit.stage == Stage.CLOSED:
        return False
    diag = people[Role.DIAGNOSTICIAN]
    run = _run_of(visit, story.crank, VisitCapture.Purpose.DIAGNOSIS, diag)
    if run is None or not run.is_settled:
        return _still_coming(visit, VisitCapture.Purpose.DIAGNOSIS)
    waits_for_idle = story.idle is not None and _waits_for_idle(story, visit, diag)
    if _wait_for_pressures(story, story.pressures, visit, diag) or waits_for_idle:
        return True
    judgement = visit.judgements.first() or _sign(story, visit, run, diag)
    if judgement is None or story.order is None:
        return False
    order = visit.work_orders.first() or _work(story, judgement, people)
    if story.outcome is None or order.state != WorkOrder.State.DONE:
        return False
    finish = _close if story.after is None else _prove
    waits = bool(story.pressures_after) and _wait_for_proof_by_pressure(story, visit, diag)
    return waits or finish(story, visit, people)


def _run_of(visit: Visit, crank: DemoCrank, purpose: str, member: Member) -> Run | None:
    tie = (
        visit.visit_captures.filter(purpose=purpose)
        .select_related("capture__current_reading")
        .first()
    )
    if tie is None:
        return None
    run = tie.capture.runs.first()
    if run is None and tie.capture.reading.state == Work.State.DONE:
        run = run_add(
            member=member,
            capture=tie.capture,
            analysis=setup_of(crank),
            engine=visit.vehicle.engine,
            conditions=Conditions(
                fuel_off=True, charger_off=True, throttle="closed", temperature="cold"
            ),
        )
    return run


def _waits_for_idle(story: Story, visit: Visit, member: Member) -> bool:
    """Have the idling engine judged; return whether the worker is still at it."""
    tie = (
        visit.visit_captures.select_related("capture__current_reading")
        .filter(capture__original_name=story.idle.file_name if story.idle else "")
        .first()
    )
    if tie is None or tie.capture.reading.state == Work.State.FAILED:
        return False
    run = tie.capture.runs.first()
    if run is None and tie.capture.reading.state == Work.State.DONE:
        run = run_add(
            member=member,
            capture=tie.capture,
            analysis=idle_setup_of(story.crank),
            engine=visit.vehicle.engine,
            conditions=Conditions(temperature="warm"),
        )
    return run is None or not run.is_settled


def _wait_for_pressures(
    story: Story, pressures: tuple[DemoPressure, ...], visit: Visit, member: Member
) -> bool:
    """Have pressures in the cylinders measured; return whether the worker is still at one."""
    waits = False
    for pressure in pressures:
        tie = (
            visit.visit_captures.select_related("capture__current_reading")
            .filter(capture__original_name=pressure.file_name)
            .first()
        )
        if tie is None or tie.capture.reading.state == Work.State.FAILED:
            continue
        run = tie.capture.runs.first()
        if run is None and tie.capture.reading.state == Work.State.DONE:
            run = run_add(
                member=member,
                capture=tie.capture,
                analysis=pressure_setup_of(story.crank, pressure),
                engine=visit.vehicle.engine,
                conditions=Conditions(temperature="warm"),
            )
        waits = waits or run is None or not run.is_settled
    return waits


def _wait_for_proof_by_pressure(story: Story, visit: Visit, member: Member) -> bool:
    """Record the cylinders again after the repair; return whether the worker is still at it."""
    names = [pressure.file_name for pressure in story.pressures_after]
    if not visit.visit_captures.filter(capture__original_name__in=names).exists():
        visit_captures_add(
            visit=visit,
            member=member,
            uploads=[record_pressure(pressure) for pressure in story.pressures_after],
            purpose=VisitCapture.Purpose.VERIFICATION,
        )
        return True
    return _wait_for_pressures(story, story.pressures_after, visit, member)


def _still_coming(visit: Visit, purpose: str) -> bool:
    """Return whether the worker may yet bring what is missing."""
    tie = (
        visit.visit_captures.filter(purpose=purpose)
        .select_related("capture__current_reading")
        .first()
    )
    return tie is not None and tie.capture.reading.state != Work.State.FAILED


def _sign(story: Story, visit: Visit, run: Run, member: Member) -> Judgement | None:
    report = run.report
    if story.sign is None or report is None or report.verdict == "not judged":
        return None
    return judgement_sign(
        visit=visit,
        member=member,
        kind=Judgement.Kind.ACCEPTED,
        mechanical=Judgement.Mechanical.YES
        if story.sign == "accepted"
        else Judgement.Mechanical.NO,
        run=run,
        cylinders=story.misfiring or report.candidates[0],
        reason=story.reason,
        fault_group="" if story.sign == "accepted" else story.sign,
    )


def _work(story: Story, judgement: Judgement, people: dict[Role, Member]) -> WorkOrder:
    mechanic = people[Role.MECHANIC]
    order = work_order_create(judgement=judgement, member=people[Role.DIAGNOSTICIAN])
    if story.order == "open":
        return order
    order = work_order_accept(order=order, member=mechanic)
    done = story.order == "done"
    suspects = order.cylinders if done else order.cylinders[:1]
    for found in story.findings:
        for cylinder in _cylinders_of(found, suspects):
            is_leak = found.test == CylinderFinding.Test.LEAK_DOWN
            finding_add(
                order=order,
                member=mechanic,
                found=finding_services.NewFinding(
                    cylinder=cylinder,
                    test=found.test,
                    outcome=found.outcome,
                    pressure_kpa=found.pressure_kpa,
                    first_puff_kpa=found.first_puff_kpa,
                    leak_percent=found.leak_percent,
                    heard_at=found.heard_at,
                    orifice_mm=1.0 if is_leak else None,
                    at_tdc=is_leak,
                    is_warm=is_leak,
                    words=found.words,
                    figures=found.figures,
                ),
            )
    for swap in story.swaps:
        swap_add(
            order=order,
            member=mechanic,
            swapped=Swapped(
                part=swap.part,
                from_cylinder=swap.from_cylinder,
                to_cylinder=swap.to_cylinder,
                followed=swap.followed,
                counts_before=swap.before,
                counts_after=swap.after,
            ),
        )
    if done:
        if not order.cylinders:
            finding_add(
                order=order,
                member=mechanic,
                found=finding_services.NewFinding(
                    cylinder=1,
                    test=CylinderFinding.Test.OTHER,
                    outcome=CylinderFinding.Outcome.GOOD,
                    words="Nothing found.",
                ),
            )
        order = work_order_complete(
            order=order,
            member=mechanic,
            summary=story.summary,
            left_out=story.left_out,
        )
        consent_add(
            visit=judgement.visit,
            member=people[Role.WRITER],
            said=SaidOnRepair(True, str(story.customer["name"]), "phone"),
        )
    return order


def _cylinders_of(found: DemoFinding, suspects: list[int]) -> list[int | None]:
    if found.is_whole_engine:
        return [None]
    if found.cylinder is not None:
        return [found.cylinder]
    if found.good_cylinder is not None:
        return [] if found.good_cylinder in suspects else [found.good_cylinder]
    return [*suspects]


def _prove(story: Story, visit: Visit, people: dict[Role, Member]) -> bool:
    after = story.after
    assert after is not None  # noqa: S101 - only asked of stories that have one
    diag = people[Role.DIAGNOSTICIAN]
    purpose = VisitCapture.Purpose.VERIFICATION
    if not visit.visit_captures.filter(purpose=purpose).exists():
        visit_captures_add(visit=visit, member=diag, uploads=record([after]), purpose=purpose)
        return True
    run = _run_of(visit, after, purpose, diag)
    if run is None or not run.is_settled:
        return _still_coming(visit, purpose)
    return _close(story, visit, people)


def _close(story: Story, visit: Visit, people: dict[Role, Member]) -> bool:
    """Write cause, correction and proof down and deliver; nothing waits after it."""
    diag = people[Role.DIAGNOSTICIAN]
    outcome = outcome_of(visit=visit)
    expected = outcome.version
    for name, value in (story.outcome or {}).items():
        setattr(outcome, name, value)
    outcome_change(
        outcome=outcome, expected_version=expected, member=diag, fields=list(story.outcome or {})
    )
    visit.refresh_from_db()
    visit_move(visit=visit, to=Stage.CLOSED, member=people[Role.WRITER], confirmed=True)
    return False
