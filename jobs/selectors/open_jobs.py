"""What the next step of each open job hangs on, in as many queries whatever their number."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from django.db.models import OuterRef, QuerySet, Subquery

from jobs.core.cautions import method_notice
from jobs.core.next_step import (
    Asked,
    Captures,
    Consent,
    Holder,
    NextStep,
    Order,
    Proof,
    Step,
    StepFacts,
    next_step,
)
from jobs.core.stages import Stage
from jobs.core.waiting import Party, party_of
from jobs.models import Judgement, Outcome, Question, Visit, VisitCapture, WorkOrder
from jobs.selectors.consents import falls_short, is_yes_to, order_among, stands_among
from jobs.selectors.found_elsewhere import is_unsigned, standing_findings
from jobs.selectors.questions import open_questions
from jobs.selectors.used import passed_on
from jobs.selectors.visit_records import VisitRecords, records_of
from jobs.selectors.work import is_superseded
from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member
from traces.models import Run, Work


@dataclass(frozen=True, slots=True)
class OpenJob:
    """An open job with what its next step hangs on, whoever looks."""

    visit: Visit
    records: VisitRecords
    facts: StepFacts

    def next_for(self, member: Member) -> NextStep:
        """Return the next step for a member of the shop, as the job's page says it."""
        facts = replace(self.facts, holder=holder_of(self.records.open_order, member))
        return next_step(facts, Role(member.role))

    def whose(self, step: Step) -> Member | None:
        """Return who has the job at a step: who took its order, was asked, signed, took it in."""
        records = self.records
        return whose_step(
            self.visit, step, out=records.open_order, verdict=records.verdict, facts=self.facts
        )


def whose_step(
    visit: Visit,
    step: Step,
    *,
    out: WorkOrder | None,
    verdict: Judgement | None,
    facts: StepFacts,
) -> Member | None:
    """Return who has a job at a step, from the order that is out and the verdict that stands."""
    party = party_of(step)
    if party is Party.MECHANIC:
        return (out.accepted_by or out.assigned_to) if out else None
    if party is Party.DIAGNOSTICIAN:
        if out is not None and facts.asked is not Asked.NOTHING:
            return out.created_by
        return verdict.by if verdict else None
    return visit.opened_by


def open_jobs(member: Member) -> tuple[OpenJob, ...]:
    """Return the open jobs of the shop, by id."""
    visits = Visit.objects.seen_by(member).exclude(stage=Stage.CLOSED)
    records = records_of(visits)
    questions = open_questions(member)
    diagnosis, proofs = _captures(visits)
    rows = (
        visits.with_vehicle()
        .select_related("complaint", "triage", "outcome", "opened_by__user", "shop")
        .order_by("pk")
    )
    listed = list(rows)
    passed = passed_on(listed, records)
    unsigned = _with_unsigned(listed, records)
    return tuple(
        OpenJob(
            visit,
            records[visit.pk],
            _facts(
                visit,
                records[visit.pk],
                questions.get(visit.pk, []),
                captures=captures_state(diagnosis[visit.pk]),
                has_proof=bool(proofs[visit.pk]),
                is_passed=visit.pk in passed,
                is_unsigned=visit.pk in unsigned,
            ),
        )
        for visit in listed
    )


def holder_of(order: WorkOrder | None, member: Member) -> Holder:
    """Return whose the order that is out is, seen by a member."""
    if order is None:
        return Holder.NOBODY
    whose = order.accepted_by_id or order.assigned_to_id
    if whose is None:
        return Holder.NOBODY
    return Holder.VIEWER if whose == member.pk else Holder.OTHER


def captures_state(reached: Collection[Captures]) -> Captures:
    """Return how far captures are, from how far each of them is: the furthest counts."""
    if not reached:
        return Captures.NONE
    furthest = (Captures.JUDGED, Captures.ANALYSING, Captures.TO_SET_UP)
    return next((state for state in furthest if state in reached), Captures.NOT_JUDGED)


def capture_state(reading: str, run: str | None, verdict: str | None) -> Captures:
    """Return how far a capture is, by the states of its reading and of its newest run.

    Parameters
    ----------
    run, verdict
        None where it was not set up yet, and where nothing was found.
    """
    if run is None:
        if reading == Work.State.FAILED:
            return Captures.NOT_JUDGED
        return Captures.TO_SET_UP if reading == Work.State.DONE else Captures.ANALYSING
    if run == Work.State.DONE:
        return Captures.NOT_JUDGED if verdict in {None, "not judged"} else Captures.JUDGED
    return Captures.NOT_JUDGED if run == Work.State.FAILED else Captures.ANALYSING


def proof_state(outcome: Outcome | None) -> Proof:
    """Return what was written of the repair."""
    verified = outcome.verified if outcome else ""
    if verified == Outcome.Verified.NO:
        return Proof.STILL_THE_SAME
    return Proof.SETTLED if verified else Proof.NONE


_States = defaultdict[int, list[Captures]]


def _captures(visits: QuerySet[Visit]) -> tuple[_States, _States]:
    """Return how far each capture that counts is: of the diagnosis, and of after the repair."""
    newest = Run.objects.filter(capture_id=OuterRef("capture_id")).order_by("-pk")
    rows = (
        VisitCapture.objects.filter(
            visit__in=visits.order_by().values("pk"),
            aside_why="",
            purpose__in={*VisitCapture.CRANKED, *VisitCapture.AFTER_REPAIR},
        )
        .order_by("pk")
        .annotate(
            run_state=Subquery(newest.values("state")[:1]),
            run_verdict=Subquery(newest.values("verdict")[:1]),
        )
        .values_list(
            "visit_id", "purpose", "capture__current_reading__state", "run_state", "run_verdict"
        )
    )
    diagnosis: _States = defaultdict(list)
    proofs: _States = defaultdict(list)
    for visit, purpose, *states in rows:
        of_purpose = proofs if purpose in VisitCapture.AFTER_REPAIR else diagnosis
        of_purpose[visit].append(capture_state(*states))
    return diagnosis, proofs


def _with_unsigned(
    visits: Sequence[Visit], records: defaultdict[int, VisitRecords]
) -> frozenset[int]:
    """Return the jobs whose agreed repair wants a new verdict: a test found more than is signed."""
    asked = {v.pk: verdict for v in visits if (verdict := _to_repair(records[v.pk])) is not None}
    found = standing_findings({pk: records[pk].orders for pk in asked})
    return frozenset(pk for pk, verdict in asked.items() if is_unsigned(verdict, found[pk]))


def _to_repair(records: VisitRecords) -> Judgement | None:
    """Return the verdict that stands, where the customer agreed to its repair."""
    said, verdict = records.last_answer, records.verdict
    if said is None or verdict is None or not stands_among(said, records.orders_done):
        return None
    return verdict if is_yes_to(said, verdict) else None


def _facts(
    visit: Visit,
    records: VisitRecords,
    questions: Sequence[Question],
    *,
    captures: Captures,
    has_proof: bool,
    is_passed: bool,
    is_unsigned: bool,
) -> StepFacts:
    complaint = getattr(visit, "complaint", None)
    triage = getattr(visit, "triage", None)
    outcome: Outcome | None = getattr(visit, "outcome", None)
    out, verdict = records.open_order, records.verdict
    asked = [q for q in questions if out is not None and q.work_order_id == out.pk]
    agreed = records.last_answer if _to_repair(records) else None
    made = order_among(agreed, _orders_of(verdict, records), records.orders_done)
    is_free = verdict is not None and out is None
    return StepFacts(
        stage=visit.stage_enum,
        has_complaint=bool(complaint and complaint.words),
        has_triage=bool(triage and triage.cranks),
        captures=captures,
        has_proof_capture=has_proof,
        method_applies=method_notice(visit.vehicle.drive) is None,
        is_signed=verdict is not None,
        beyond_compression=verdict is not None and verdict.is_beyond_compression,
        may_order=is_free and made is None and not is_unsigned,
        order=Order(out.state) if out else Order.NONE,
        is_superseded=out is not None and is_superseded(out, verdict),
        asked=_asked(asked),
        orders_done=bool(records.orders_done),
        consent=_consent(records),
        repair_to_sign=is_free
        and agreed is not None
        and (is_unsigned if made is None else made.state == WorkOrder.State.WITHDRAWN),
        proof=proof_state(outcome),
        is_written_up=bool(outcome and outcome.cause.strip() and outcome.correction.strip()),
        is_passed=is_passed,
    )


def _orders_of(verdict: Judgement | None, records: VisitRecords) -> list[WorkOrder]:
    if verdict is None:
        return []
    return [order for order in reversed(records.orders) if order.judgement_id == verdict.pk]


def _asked(questions: Sequence[Question]) -> Asked:
    if any(question.is_stop for question in questions):
        return Asked.STOP
    return Asked.QUESTION if questions else Asked.NOTHING


def _consent(records: VisitRecords) -> Consent:
    said = records.last_answer
    if said is None or not stands_among(said, records.orders_done):
        return Consent.NOT_ASKED
    if not said.agreed:
        return Consent.NO
    short = falls_short(said, records.verdict, records.open_order, records.orders_done)
    return Consent.NOT_ASKED if short else Consent.YES
