"""Which open jobs wait, since when, for whom, and who has them."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Max
from django.utils.translation import gettext as _

from jobs.core.next_step import Asked, Consent, Holder, Order, Proof, StepFacts
from jobs.core.stages import LABELS, Stage
from jobs.core.waiting import PARTY_WORDS, Party, waits_for
from jobs.models import Outcome, Question, TimelineEvent, Visit, VisitCapture
from jobs.selectors.consents import covers, stands_among
from jobs.selectors.questions import open_questions
from jobs.selectors.visit_records import VisitRecords, records_of
from jobs.selectors.work import is_superseded
from shopdiag.people.models import Member

_NO_STEP = ("note", "photo")
"""Kinds of timeline lines that bring no job on."""


@dataclass(frozen=True, slots=True)
class WaitingJob:
    """An open job.

    Parameters
    ----------
    since
        When it last came on: the last line of its timeline that is no note and no photo.
    holder
        Who has it by name; empty where nobody took it.
    """

    visit: Visit
    party: Party
    since: datetime
    holder: str
    is_stopped: bool

    @property
    def party_words(self) -> str:
        """For whom it waits."""
        return _(PARTY_WORDS[self.party])

    @property
    def stage_words(self) -> str:
        """Where it stands."""
        return _(LABELS[self.visit.stage_enum])


@dataclass(frozen=True, slots=True)
class Load:
    """How many open jobs one person has."""

    name: str
    jobs: tuple[WaitingJob, ...]


def waiting_jobs(member: Member) -> tuple[WaitingJob, ...]:
    """Return the open jobs of the shop, the longest waiting first."""
    visits = Visit.objects.seen_by(member).exclude(stage=Stage.CLOSED)
    records = records_of(visits)
    questions = open_questions(member)
    last_step = _last_steps(member)
    proofs = set(
        VisitCapture.objects.seen_by(member)
        .filter(purpose=VisitCapture.Purpose.VERIFICATION, aside_why="")
        .exclude(visit__stage=Stage.CLOSED)
        .values_list("visit_id", flat=True)
    )
    rows = visits.with_vehicle().select_related("complaint", "triage", "outcome", "opened_by__user")
    jobs = [
        _job(
            visit,
            records[visit.pk],
            questions.get(visit.pk, []),
            since=last_step.get(visit.pk, visit.opened_at),
            has_proof=visit.pk in proofs,
        )
        for visit in rows
    ]
    return tuple(sorted(jobs, key=lambda job: (job.since, job.visit.pk)))


def loads(jobs: Iterable[WaitingJob]) -> tuple[Load, ...]:
    """Return who has which open jobs, whoever has most first."""
    jobs = tuple(jobs)
    counted = Counter(job.holder for job in jobs if job.holder)
    return tuple(
        Load(name, tuple(job for job in jobs if job.holder == name))
        for name, _count in sorted(counted.items(), key=lambda item: (-item[1], item[0]))
    )


def _last_steps(member: Member) -> dict[int, datetime]:
    return dict(
        TimelineEvent.objects.seen_by(member)
        .exclude(visit__stage=Stage.CLOSED)
        .exclude(kind__in=_NO_STEP)
        .order_by()
        .values_list("visit_id")
        .annotate(last=Max("at"))
    )


def _job(
    visit: Visit,
    records: VisitRecords,
    questions: Sequence[Question],
    *,
    since: datetime,
    has_proof: bool,
) -> WaitingJob:
    out = records.open_order
    mine = [q for q in questions if out is not None and q.work_order_id == out.pk]
    facts = _facts(visit, records, mine, has_proof=has_proof)
    party = waits_for(facts)
    return WaitingJob(
        visit=visit,
        party=party,
        since=since,
        holder=_holder(party, visit, records, facts),
        is_stopped=facts.asked is Asked.STOP,
    )


def _facts(
    visit: Visit, records: VisitRecords, questions: Sequence[Question], *, has_proof: bool
) -> StepFacts:
    """Return what tells for whom a job waits; see `waits_for` for what is left out."""
    complaint = getattr(visit, "complaint", None)
    triage = getattr(visit, "triage", None)
    outcome: Outcome | None = getattr(visit, "outcome", None)
    out = records.open_order
    asked = Asked.QUESTION if questions else Asked.NOTHING
    return StepFacts(
        stage=visit.stage_enum,
        has_complaint=bool(complaint and complaint.words),
        has_triage=bool(triage and triage.cranks),
        has_proof_capture=has_proof,
        is_signed=records.verdict is not None,
        order=Order(out.state) if out else Order.NONE,
        holder=Holder.OTHER,
        is_superseded=out is not None and is_superseded(out, records.verdict),
        asked=Asked.STOP if any(q.is_stop for q in questions) else asked,
        orders_done=bool(records.orders_done),
        consent=_consent(records),
        proof=_proof(outcome),
        is_written_up=bool(outcome and outcome.cause.strip() and outcome.correction.strip()),
    )


def _consent(records: VisitRecords) -> Consent:
    """Return the customer's answer where no order is out: with one, it is not asked for."""
    said = records.consents[-1] if records.consents else None
    if said is None or not stands_among(said, records.orders_done):
        return Consent.NOT_ASKED
    if not said.agreed:
        return Consent.NO
    is_yes = bool(said.after_orders) and covers(said, records.verdict)
    return Consent.YES if is_yes else Consent.NOT_ASKED


def _proof(outcome: Outcome | None) -> Proof:
    verified = outcome.verified if outcome else ""
    if verified == Outcome.Verified.NO:
        return Proof.STILL_THE_SAME
    return Proof.SETTLED if verified else Proof.NONE


def _holder(party: Party, visit: Visit, records: VisitRecords, facts: StepFacts) -> str:
    """Return who has a job: whoever took its order, was asked, signed, or took it in."""
    out, verdict = records.open_order, records.verdict
    if party is Party.MECHANIC:
        taken = (out.accepted_by or out.assigned_to) if out else None
        return taken.name if taken else ""
    if party is Party.DIAGNOSTICIAN:
        if out is not None and facts.asked is not Asked.NOTHING:
            return out.created_by.name
        return verdict.by.name if verdict else ""
    return visit.opened_by.name
