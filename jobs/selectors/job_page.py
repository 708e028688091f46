"""All that a job's page shows, read in a fixed number of queries."""

from dataclasses import dataclass

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.timesince import timesince
from django.utils.translation import gettext as _

from jobs.core.next_step import Step
from jobs.core.stages import Stage
from jobs.models import NumberingCheck, Visit
from jobs.selectors.captures import fuel_known
from jobs.selectors.in_short import InShort, in_short
from jobs.selectors.job_card import Move, VisitCard, visit_card
from jobs.selectors.job_sections import Sections, sections_of
from jobs.selectors.next_step import NextStepView, next_step_of, skipped_stages, step_facts
from jobs.selectors.numbering import numbering_of
from jobs.selectors.plan import PlanOfJob, plan_beside
from jobs.selectors.triage import cautions_before_cranking
from jobs.selectors.work import VisitWork, visit_work
from shopdiag.people.models import Member
from traces.core.setup import running_cautions, transducer_cautions


@dataclass(frozen=True, slots=True)
class JobPage:
    """A job's page.

    Parameters
    ----------
    following
        The next step for whoever looks.
    skipped
        Stages that the job went past with nothing done.
    here_words
        How long the vehicle is here.
    cautions
        What to mind before a capture; shown with every form that takes one.
    """

    card: VisitCard
    work: VisitWork
    numbering: NumberingCheck | None
    following: NextStepView
    short: InShort
    sections: Sections
    skipped: frozenset[Stage]
    here_words: str
    cautions: tuple[str, ...]
    running_cautions: tuple[str, ...] = ()
    """What to mind before the idling engine is recorded."""
    transducer_cautions: tuple[str, ...] = ()
    """What to mind before a transducer takes a plug's place."""
    plan: PlanOfJob | None = None
    """What may be behind it and what to test next; None where that is settled."""

    @property
    def moves_allowed(self) -> tuple[Move, ...]:
        """The stages that the job may be moved to by hand, those onward first."""
        allowed = [m for m in self.card.moves if not m.why_not]
        return tuple(sorted(allowed, key=lambda move: move.is_back))

    @property
    def empty_line(self) -> str:
        """The parts without anything on record, to which the viewer may add."""
        return ", ".join(section.title for section in self.sections.empty)

    @property
    def proof_is_next(self) -> bool:
        """Whether the viewer is to add a capture after the repair."""
        return self.following.step is Step.PROVE and self.following.is_mine

    @property
    def capture_is_next(self) -> bool:
        """Whether the viewer is to add a capture for the diagnosis."""
        return self.following.step is Step.UPLOAD and self.following.is_mine


def job_page(member: Member, visit: Visit) -> JobPage:
    """Return the page of a visit that the member may see."""
    card, work = visit_card(member, visit), visit_work(member, visit)
    numbering = numbering_of(visit)
    following = next_step_of(member, visit, card, work)
    short = in_short(visit, card, work)
    plan = plan_beside(visit, work)
    return JobPage(
        card=card,
        work=work,
        numbering=numbering,
        following=following,
        short=short,
        sections=sections_of(member, visit, card, work, short, following, plan),
        skipped=skipped_stages(visit, step_facts(member, visit, card, work)),
        here_words=here_words(visit),
        cautions=cautions_before_cranking(visit, card.triage),
        running_cautions=running_cautions(visit.vehicle.drive, visit.vehicle.stop_start),
        transducer_cautions=transducer_cautions(
            fuel_known(visit, None), visit.vehicle.drive, visit.vehicle.stop_start
        ),
        plan=plan,
    )


def here_words(visit: Visit) -> str:
    """Return since when the vehicle is here, or from when to when it was."""
    came = date_format(timezone.localtime(visit.opened_at), "j M Y")
    if visit.closed_at is not None:
        left = date_format(timezone.localtime(visit.closed_at), "j M Y")
        if left == came:
            return _("here on %(came)s") % {"came": came}
        return _("here from %(came)s to %(left)s") % {"came": came, "left": left}
    return _("here for %(long)s") % {"long": timesince(visit.opened_at, depth=1)}
