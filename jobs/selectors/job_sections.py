"""The parts of a job's page by what is on record: which are shown, and which are open."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from jobs.core.next_step import Step
from jobs.core.stages import Stage
from jobs.models import Visit, WorkOrder
from jobs.selectors.in_short import InShort, known_words
from jobs.selectors.job_card import VisitCard
from jobs.selectors.next_step import NextStepView
from jobs.selectors.plan import PlanOfJob
from jobs.selectors.work import VisitWork
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the work.

    Parameters
    ----------
    key
        Its place on the page, as addresses name it, and its template.
    title, line
        What it is called, and what it holds in one line; empty where it holds nothing.
    is_open
        Whether it is read without being asked for.
    """

    key: str
    title: str
    line: str
    is_open: bool = False

    @property
    def template(self) -> str:
        """The template that draws what it holds."""
        return f"jobs/visit/_section_{self.key}.html"


@dataclass(frozen=True, slots=True)
class Sections:
    """The parts that hold something or that the next step needs, and those that may be added."""

    held: tuple[Section, ...]
    empty: tuple[Section, ...]
    """Only those that the viewer may add something to."""


_OF_STAGE = {
    Stage.INTAKE: "complaint",
    Stage.TRIAGE: "triage",
    Stage.TEST: "evidence",
    Stage.DECIDE: "evidence",
    Stage.WORK: "work",
}
_LAST = "outcome"
_MOST_LEADING = 2
_FORM_HERE = {Step.UPLOAD: "evidence", Step.PROVE: "outcome"}
"""Steps whose form stands on the page itself."""
_FILLED_BY = {
    "complaint": (Action.TAKE_IN,),
    "triage": (Action.TRIAGE,),
    "evidence": (Action.CAPTURE, Action.JUDGE),
    "work": (Action.ORDER_WORK, Action.TAKE_IN),
    "outcome": (Action.VERIFY, Action.HAND_BACK),
}


def sections_of(  # noqa: PLR0917 - what the page has read
    member: Member,
    visit: Visit,
    card: VisitCard,
    work: VisitWork,
    short: InShort,
    following: NextStepView,
    plan: PlanOfJob | None = None,
) -> Sections:
    """Return the parts of a visit's page, in the job's order."""
    lines = {
        "complaint": card.complaint.words if card.complaint else "",
        "triage": _triage_line(card),
        "evidence": _evidence_line(work, short),
        "together": "; ".join(found.words.verdict for found in work.together),
        "plan": _plan_line(plan),
        "work": _work_line(work, short),
        "outcome": _outcome_line(work),
    }
    titles = {
        "complaint": _("Complaint"),
        "triage": _("Initial checks and codes"),
        "evidence": _("Captures and verdict"),
        "together": _("Captures together"),
        "plan": _("What next"),
        "work": _("Work orders"),
        "outcome": _("Repair, verification, delivery"),
    }
    form_here = _FORM_HERE.get(following.step, "") if following.is_mine else ""
    newest = "work" if work.open_order else _newest(visit, lines)
    held = tuple(
        Section(key, title, lines[key], is_open=key in {newest, form_here})
        for key, title in titles.items()
        if lines[key] or key == form_here
    )
    empty = tuple(
        Section(key, title, "")
        for key, title in titles.items()
        if not lines[key]
        and key != form_here
        and visit.stage != Stage.CLOSED
        and any(member.may(action) for action in _FILLED_BY.get(key, ()))
    )
    return Sections(held, empty)


def _newest(visit: Visit, lines: dict[str, str]) -> str:
    """Return the part of the visit's stage, or the last before it that holds something."""
    wanted = _OF_STAGE.get(visit.stage_enum, _LAST)
    keys = [key for key in lines if key not in {"together", "plan"}]
    upto = keys[: keys.index(wanted) + 1]
    return next((key for key in reversed(upto) if lines[key]), wanted)


def _plan_line(plan: PlanOfJob | None) -> str:
    """Return the next test, and what leads."""
    if plan is None:
        return ""
    leading = ", ".join(cause.name for cause in plan.plan.leading[:_MOST_LEADING])
    first = plan.plan.tests[0].where if plan.plan.tests else ""
    return "; ".join(part for part in (first, leading) if part)


def _triage_line(card: VisitCard) -> str:
    known = known_words(card)
    if known:
        return "; ".join(known)
    if card.triage or card.codes or card.pastes or card.freeze_frames or card.misfires:
        return _("begun")
    return ""


def _evidence_line(work: VisitWork, short: InShort) -> str:
    parts = []
    if work.captures:
        count = len(work.captures)
        parts.append(ngettext("%(count)s capture", "%(count)s captures", count) % {"count": count})
    if work.idling:
        parts.append(_("the engine idling"))
    if work.pressures:
        parts.append(_("pressure in the cylinder"))
    if short.verdict:
        parts.append(short.verdict.words)
        parts.append(short.verdict.by if short.verdict.is_signed else _("not signed"))
    if not parts and work.notice:
        return work.notice
    return "; ".join(parts)


def _work_line(work: VisitWork, short: InShort) -> str:
    parts = []
    if short.order:
        parts = [short.order.get_state_display(), short.order_who]
    elif work.orders:
        parts = [str(WorkOrder.State.WITHDRAWN.label)]
    if short.found:
        parts.append(short.found)
    if work.consent:
        parts.append(
            _("the customer agreed to the repair")
            if work.consent.agreed
            else _("the customer wants no repair")
        )
    return "; ".join(parts)


def _outcome_line(work: VisitWork) -> str:
    outcome = work.outcome
    parts = []
    if outcome and outcome.verified:
        parts.append(outcome.get_verified_display())
    if outcome and (written := outcome.cause or outcome.correction or outcome.told_customer):
        parts.append(written)
    if work.proofs:
        count = len(work.proofs)
        parts.append(
            ngettext(
                "%(count)s capture after the repair", "%(count)s captures after the repair", count
            )
            % {"count": count}
        )
    return "; ".join(parts)
