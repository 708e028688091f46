"""Which open jobs wait, since when, for whom, and who has them."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Max
from django.utils.translation import gettext as _

from jobs.core.next_step import Asked, next_step
from jobs.core.stages import LABELS, Stage
from jobs.core.waiting import PARTY_WORDS, Party, party_of
from jobs.models import TimelineEvent, Visit
from jobs.selectors.open_jobs import OpenJob, open_jobs
from shopdiag.people.core.roles import Role
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
    """Return the open jobs of the shop: stopped ones, then the longest waiting first."""
    last_step = _last_steps(member)
    jobs = [
        _waiting(job, last_step.get(job.visit.pk, job.visit.opened_at)) for job in open_jobs(member)
    ]
    return tuple(sorted(jobs, key=lambda job: (not job.is_stopped, job.since, job.visit.pk)))


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


def _waiting(job: OpenJob, since: datetime) -> WaitingJob:
    # whom the owner sees: every step is theirs too, so that none is passed over
    step = next_step(job.facts, Role.OWNER).step
    holder = job.whose(step)
    return WaitingJob(
        visit=job.visit,
        party=party_of(step),
        since=since,
        holder=holder.name if holder else "",
        is_stopped=job.facts.asked is Asked.STOP,
    )
