"""One vehicle carried from complaint to proof through the services, and what was said then."""

from dataclasses import dataclass, field
from itertools import count
from typing import Any

from django.utils import timezone

from bench.sixteen.cranks import Captured, Captures, given
from bench.sixteen.vehicles import Vehicle as Case
from engines.core.firing import FiringOrder
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, places_by_numbering
from engines.models import Engine
from engines.services import EngineInput, engine_create
from jobs.core.cautions import fluid_cautions
from jobs.core.measured_tests import TESTS
from jobs.core.plan import Plan
from jobs.core.stages import Stage
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
from jobs.selectors.captures import verdict_words
from jobs.selectors.finding_hints import hints
from jobs.selectors.findings import current_findings, finding_words
from jobs.selectors.plan import plan_of
from jobs.selectors.triage import fluids_in
from jobs.selectors.typed_findings import rows_of, sayings_about, typed_test_of
from jobs.services.completion import work_order_complete
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.intake import visit_change, visit_open
from jobs.services.judgements import judgement_sign
from jobs.services.outcome import outcome_change, outcome_of
from jobs.services.swaps import Swapped, swap_add
from jobs.services.triage import codes_add, misfires_set, triage_change, triage_of
from jobs.services.visits import visit_move
from jobs.services.work import work_order_accept, work_order_create
from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member, Shop
from shopdiag.people.services import member_add
from traces.core.report import Report
from traces.models import Capture, CaptureSetup, Reading, Run, Work

_numbers = count(1)
_FIRST = 3
_COLUMNS = frozenset(
    {"pressure_kpa", "first_puff_kpa", "leak_percent", "heard_at", "oil_ml", "swept_ml"}
    | {"idle_kpa", "snap_kpa", "orifice_mm", "at_tdc", "is_warm", "supply_kpa", "words"}
)


@dataclass(slots=True)
class Carried:
    """What became of a vehicle.

    Parameters
    ----------
    steps
        What the product said at each step, the step's name first.
    called
        What the analysis called the capture before the repair.
    first_tests
        Keys of the tests that the plan put first once codes and capture were there.
    cause_keys
        Causes that the plan shows, or that lead, when all tests were recorded.
    """

    visit: Visit
    steps: list[tuple[str, list[str]]] = field(default_factory=list)
    called: str = ""
    first_tests: tuple[str, ...] = ()
    cause_keys: tuple[str, ...] = ()
    cause: str = ""
    is_shown: bool = False
    proof: str = ""


def open_shop() -> dict[Role, Member]:
    """Return the people of a shop of its own."""
    shop = Shop.objects.create(
        name="Sixteen Acre Garage", pressure_unit=Shop.PressureUnit.KPA, distance_unit="km"
    )
    return {
        role: member_add(
            shop=shop,
            name=role.value.title(),
            username=f"sixteen-{role.value}",
            role=role,
            password="for-the-bench-only-16",  # noqa: S106 - a shop that is removed again
        )
        for role in Role
    }


def carry(case: Case, people: dict[Role, Member], captures: Captures = given) -> Carried:
    """Carry a vehicle from complaint to delivery, and keep what the product said."""
    visit = _take_in(case, people)
    done = Carried(visit)
    _check_first(case, visit, people[Role.DIAGNOSTICIAN], done)
    run = _capture(visit, people[Role.DIAGNOSTICIAN], case, captures(case, False))
    judgement = _sign(case, visit, run, people[Role.DIAGNOSTICIAN])
    _say_verdict(visit, run, done)
    order = work_order_create(judgement=judgement, member=people[Role.DIAGNOSTICIAN])
    done.steps.append(("order", [order.request, _tests_of(order)]))
    order = work_order_accept(order=order, member=people[Role.MECHANIC])
    for test in case.tests:
        _record(order, people[Role.MECHANIC], test, done)
    _settle(case, order, people, done)
    _prove(case, visit, people, done, captures)
    return done


def _take_in(case: Case, people: dict[Role, Member]) -> Visit:
    writer = people[Role.WRITER]
    vehicle = Vehicle(
        make="Sixteen",
        model=case.key.replace("_", " ").title()[:60],
        fuel=case.fuel,
        coils=case.coils,
        engine=_engine(case, people[Role.OWNER]),
        plate=f"SX {next(_numbers):03d}",
    )
    customer = Customer(name=f"Customer of {case.key}")
    opened = []
    for words in (["New plugs were fitted."] if case.comes_back else []) + [case.words]:
        complaint = Complaint(
            words=words, happens=list(case.happens), warning_lights=list(case.lights)
        )
        opened.append(
            visit_open(
                member=writer,
                customer=customer,
                vehicle=vehicle,
                complaint=complaint,
                odometer=120_000,
                confirmed=True,
            )
        )
    visit = opened[-1]
    if case.comes_back:
        visit.comeback_of = opened[0]
        visit_change(visit=visit, expected_version=visit.version, member=writer)
    return visit


def _engine(case: Case, owner: Member) -> Engine:
    order = FiringOrder.parse(case.order)
    layout = layout_of(case.layout)
    places = places_by_numbering(layout, len(order), Numbering(case.numbering))
    return engine_create(
        member=owner,
        given=EngineInput(
            name=f"{case.layout}, {case.order} ({case.key})",
            layout=case.layout,
            order=order,
            places=places,
            numbering=case.numbering,
            fuel=case.fuel,
            source="invented for this table",
        ),
    )


def _check_first(case: Case, visit: Visit, diag: Member, done: Carried) -> None:
    triage = triage_of(visit=visit)
    triage.verified, triage.cranks, triage.battery_v = "yes", case.cranks, 12.6
    for name, value in case.triage.items():
        setattr(triage, name, value)
    triage_change(triage=triage, expected_version=1, member=diag)
    if case.codes:
        codes_add(visit=visit, text=case.codes, member=diag)
    if case.counts:
        counts = dict(enumerate(case.counts, start=1))
        misfires_set(visit=visit, counts=counts, member=diag, period="one drive", confirmed=True)
    done.steps.append(("initial checks", list(fluid_cautions(fluids_in(triage)))))


def _capture(
    visit: Visit,
    diag: Member,
    case: Case,
    captured: Captured,
    purpose: str = VisitCapture.Purpose.DIAGNOSIS,
) -> Run:
    """Give a visit a capture with its settings and its result."""
    analysis, report = captured
    number = next(_numbers)
    capture = Capture.objects.create(
        shop=visit.shop,
        original=f"captures/sixteen-{number}.csv",
        original_name=f"{case.key}-{number}.csv",
        size_bytes=100,
        sha256=f"{number:064d}",
        uploaded_by=diag,
    )
    capture.current_reading = Reading.objects.create(
        capture=capture, state=Work.State.DONE, understood={"samples": 6000, "channels": []}
    )
    capture.save()
    VisitCapture.objects.create(visit=visit, capture=capture, purpose=purpose)
    setup = CaptureSetup.objects.create(
        capture=capture,
        engine=visit.vehicle.engine,
        settings=analysis.to_json(),
        created_by=diag,
    )
    return Run.objects.create(
        capture=capture,
        setup=setup,
        reading=capture.reading,
        state=Work.State.DONE,
        verdict=report.verdict,
        result=report.to_json(),
        finished_at=timezone.now(),
    )


def _sign(case: Case, visit: Visit, run: Run, diag: Member) -> Judgement:
    return judgement_sign(
        visit=visit,
        member=diag,
        kind=Judgement.Kind.ACCEPTED,
        mechanical=case.mechanical,
        run=run,
        cylinders=case.cylinders,
        reason=case.reason,
        fault_group=case.group if case.mechanical == "no" else "",
    )


def _say_verdict(visit: Visit, run: Run, done: Carried) -> None:
    report = run.report
    if report is None:
        raise RuntimeError("A capture of the table has no result.")
    words, _kind, detail = verdict_words(report)
    done.called = f"{words}, {detail}" if detail else words
    plan = plan_of(visit).plan
    done.first_tests = tuple(test.key for test in plan.tests[:_FIRST])
    done.steps.append(
        (
            "capture and plan",
            [
                done.called,
                *([plan.stop] if plan.stop else []),
                _leading(plan),
                "Next: " + "; ".join(_test_words(t) for t in plan.tests[:_FIRST]),
            ],
        )
    )


def _test_words(test: Any) -> str:  # noqa: ANN401 - a PlannedTest
    on = f" on {', '.join(map(str, test.cylinders))}" if test.cylinders else ""
    return f"{test.name}{on}"


def _leading(plan: Plan) -> str:
    lead = "Shown" if plan.is_shown else "Leading"
    return f"{lead}: " + "; ".join(cause.name for cause in plan.leading)


def _tests_of(order: WorkOrder) -> str:
    return "Tests wanted: " + ", ".join(test["key"] for test in order.tests)


def _record(order: WorkOrder, mechanic: Member, test: dict[str, Any], done: Carried) -> None:
    if "swap" in test:
        swap = swap_add(
            order=order,
            member=mechanic,
            swapped=Swapped(
                part=test["swap"],
                from_cylinder=test["from"],
                to_cylinder=test["to"],
                followed=test["followed"],
                counts_before=dict(enumerate(test.get("before", ()), start=1)),
                counts_after=dict(enumerate(test.get("after", ()), start=1)),
                confirmed=True,
            ),
        )
        done.steps.append((f"{test['swap']} moved", [swap.line]))
        return
    said = []
    for row in test["rows"]:
        finding = finding_add(order=order, member=mechanic, found=_finding(test["test"], row))
        said.append(finding_words(finding, "kPa"))
    done.steps.append((test["test"], [*said, *_rules_say(order, test["test"])]))


def _finding(test: str, row: dict[str, Any]) -> NewFinding:
    given = {k: v for k, v in row.items() if k not in {"cylinder", "bank", "outcome"}}
    columns = {k: v for k, v in given.items() if k in _COLUMNS}
    figures = {k: v for k, v in given.items() if k not in _COLUMNS}
    return NewFinding(
        row.get("cylinder"),
        test,
        row["outcome"],
        bank=row.get("bank"),
        figures=figures,
        confirmed=True,
        **columns,
    )


def _rules_say(order: WorkOrder, test: str) -> list[str]:
    findings = current_findings(order)
    entry = typed_test_of(order, test) if test in TESTS else None
    if entry is None:
        return [hint.words for hint in hints(order, findings, "kPa")]
    return [str(s.words) for s in sayings_about(order, entry, rows_of(findings, test))]


def _settle(case: Case, order: WorkOrder, people: dict[Role, Member], done: Carried) -> None:
    """Finish the order, sign what the tests settled, and ask the customer."""
    plan = plan_of(done.visit).plan
    done.cause_keys = tuple(cause.key for cause in plan.leading)
    done.cause, done.is_shown = _leading(plan), plan.is_shown
    done.steps.append(("all tests recorded", [done.cause]))
    order.refresh_from_db()
    work_order_complete(
        order=order,
        member=people[Role.MECHANIC],
        summary=case.cause,
        left_out="The tests recorded name the cause.",
    )
    if case.then:
        judgement_sign(
            visit=done.visit,
            member=people[Role.DIAGNOSTICIAN],
            kind=Judgement.Kind.WITHOUT_RUN,
            mechanical=case.then["mechanical"],
            cylinders=case.then.get("cylinders", ()),
            reason=case.then["reason"],
            fault_group=case.then.get("group", ""),
            confirmed=True,
        )
    done.visit.refresh_from_db()
    consent_add(
        visit=done.visit,
        member=people[Role.WRITER],
        said=SaidOnRepair(agreed=True, said_by="The customer", how="phone", confirmed=True),
    )


def _prove(
    case: Case, visit: Visit, people: dict[Role, Member], done: Carried, captures: Captures
) -> None:
    diag = people[Role.DIAGNOSTICIAN]
    said = []
    if "crank" in case.proof:
        purpose = VisitCapture.Purpose.VERIFICATION
        run = _capture(visit, diag, case, captures(case, True), purpose=purpose)
        said.append(f"capture after the repair: {verdict_words(_known(run))[0]}")
    outcome = outcome_of(visit=visit)
    expected = outcome.version
    values = {
        "cause": case.cause,
        "correction": case.correction,
        "verified": "yes",
        "verified_how": "Second capture." if "crank" in case.proof else "Counted over a drive.",
    }
    if "drive" in case.proof:
        before, after = case.proof["before"], case.proof["after"]
        values |= {"drive": case.proof["drive"], "misfires_before": before}
        values |= {"misfires_after": after}
        said.append(f"misfires over {case.proof['drive']}: {before} before, {after} after")
    for name, value in values.items():
        setattr(outcome, name, value)
    outcome_change(
        outcome=outcome,
        expected_version=expected,
        member=diag,
        fields=list(values),
        confirmed=True,
    )
    visit.refresh_from_db()
    visit_move(visit=visit, to=Stage.CLOSED, member=people[Role.WRITER], confirmed=True)
    visit.refresh_from_db()
    done.proof = "; ".join(said)
    done.steps.append(("proof", [*said, f"job {visit.get_stage_display().lower()}"]))


def _known(run: Run) -> Report:
    report = run.report
    if report is None:
        raise RuntimeError("A capture of the table has no result.")
    return report


def free_text_of(visit: Visit) -> list[str]:
    """Return what stands as free text where figures belong.

    That is a test by no name, and words on a test that is recorded by its figures. A trace that is
    looked at has none, and is told in words.
    """
    findings = CylinderFinding.objects.filter(work_order__visit=visit)
    by_figures = {*TESTS, "gauge_dry", "gauge_wet", "leak_down", "running"}
    return [
        f"{f.test}: {f.words}"
        for f in findings
        if f.test == CylinderFinding.Test.OTHER or (f.words and f.test in by_figures)
    ]
