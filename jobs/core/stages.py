"""The stages of a visit and which moves between them are allowed."""

from dataclasses import dataclass
from enum import StrEnum

from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop


class Stage(StrEnum):
    """Where a visit stands, in the order of the job."""

    INTAKE = "intake"
    TRIAGE = "triage"
    TEST = "test"
    DECIDE = "decide"
    WORK = "work"
    VERIFY = "verify"
    HAND_BACK = "hand_back"
    CLOSED = "closed"


LABELS: dict[Stage, str] = {
    Stage.INTAKE: gettext_noop("Intake"),
    Stage.TRIAGE: gettext_noop("Triage"),
    Stage.TEST: gettext_noop("Cranking test"),
    Stage.DECIDE: gettext_noop("Decide"),
    Stage.WORK: gettext_noop("Work order"),
    Stage.VERIFY: gettext_noop("Repair and verify"),
    Stage.HAND_BACK: gettext_noop("Delivery"),
    Stage.CLOSED: gettext_noop("Closed"),
}
ORDER: tuple[Stage, ...] = tuple(Stage)


@dataclass(frozen=True, slots=True)
class VisitFacts:
    """What the rules ask about a visit."""

    has_complaint: bool
    has_triage: bool
    has_judged_run: bool
    has_judgement: bool
    open_work_orders: int
    work_orders: int
    has_cause: bool
    has_correction: bool
    is_verified: bool
    has_consent: bool = False
    """Whether the customer's last word on the repair is a yes."""
    is_repair_out: bool = False
    """Whether the work order that is out carries out a repair the customer agreed to."""


_FORWARD: dict[Stage, frozenset[Stage]] = {
    Stage.INTAKE: frozenset({Stage.TRIAGE}),
    Stage.TRIAGE: frozenset({Stage.TEST, Stage.DECIDE}),
    Stage.TEST: frozenset({Stage.DECIDE}),
    Stage.DECIDE: frozenset({Stage.WORK, Stage.VERIFY, Stage.HAND_BACK}),
    Stage.WORK: frozenset({Stage.VERIFY, Stage.HAND_BACK}),
    Stage.VERIFY: frozenset({Stage.HAND_BACK}),
    Stage.HAND_BACK: frozenset({Stage.CLOSED}),
    Stage.CLOSED: frozenset(),
}


def moves_from(stage: Stage) -> tuple[Stage, ...]:
    """Return the stages a visit may go to next, in the job's order.

    Going back is allowed to any earlier stage (a repair that did not hold is triaged
    again); a closed visit goes back to delivery only, so that closing is undone knowingly.
    """
    if stage is Stage.CLOSED:
        return (Stage.HAND_BACK,)
    back = frozenset(ORDER[: ORDER.index(stage)])
    return tuple(s for s in ORDER if s in back | _FORWARD[stage])


def refusal(stage: Stage, to: Stage, facts: VisitFacts) -> str | None:
    """Return why the move is not allowed now, as one sentence, or None when it is."""
    if to not in moves_from(stage):
        return _("A visit does not go from {here} to {there}.").format(
            here=_(LABELS[stage]), there=_(LABELS[to])
        )
    if facts.open_work_orders and ORDER.index(to) < ORDER.index(Stage.WORK):
        return _("Complete or withdraw the open work order first.")
    if to is stage or ORDER.index(to) < ORDER.index(stage):
        return None
    checks: dict[Stage, list[tuple[bool, str]]] = {
        Stage.TRIAGE: [(facts.has_complaint, _("Write down the complaint first."))],
        Stage.TEST: [(facts.has_triage, _("Note the cranking sound first."))],
        Stage.DECIDE: [(facts.has_triage, _("Note the cranking sound first."))],
        Stage.WORK: [(facts.work_orders > 0, _("Make a work order from a signed verdict first."))],
        Stage.VERIFY: [
            (facts.has_judgement, _("Sign a verdict first, and why.")),
            (facts.open_work_orders == 0, _("Complete or withdraw the open work order first.")),
            (facts.has_consent, _("Note the customer's consent to the repair first.")),
        ],
        Stage.HAND_BACK: [
            (facts.has_judgement, _("Sign a verdict first, and why.")),
            (facts.open_work_orders == 0, _("Complete or withdraw the open work order first.")),
        ],
        Stage.CLOSED: [
            (facts.open_work_orders == 0, _("Complete or withdraw the open work order first.")),
            (facts.has_cause, _("Write the cause in plain words first.")),
            (facts.has_correction, _("Write the correction, or that none was wanted, first.")),
        ],
    }
    for holds, sentence in checks[to]:
        if not holds:
            return sentence
    return None


def needs_reason(stage: Stage, to: Stage, facts: VisitFacts) -> bool:
    """Return whether a person says why they move a visit by hand.

    What the job's own button does needs none: delivery of what is written up, and closing.
    """
    if ORDER.index(to) < ORDER.index(stage) or to is not Stage.HAND_BACK:
        return to is not Stage.CLOSED
    return not (facts.has_cause and facts.has_correction)


def fallen_back_to(stage: Stage, facts: VisitFacts) -> Stage:
    """Return where a visit stands once its orders changed: where it was, or further back.

    With an order out somebody works on it, whatever was proved before: on the diagnosis, or on
    the agreed repair. With none left that was not withdrawn, it waits for a decision.
    """
    at_work = Stage.VERIFY if facts.is_repair_out else Stage.WORK
    if facts.open_work_orders and ORDER.index(stage) > ORDER.index(at_work):
        return at_work
    if stage is Stage.WORK and not facts.work_orders:
        return Stage.DECIDE
    return stage


def carried_to(to: Stage, facts: VisitFacts) -> bool:
    """Return whether what was just recorded takes a visit to a stage, however far back it stands.

    Work counts where it was done: a signed verdict decides also where nobody listened first. A
    capture after the repair says that somebody repaired.
    """
    settled = facts.has_judgement and facts.open_work_orders == 0
    return {
        Stage.TEST: True,
        Stage.DECIDE: facts.has_judgement,
        Stage.WORK: facts.work_orders > 0,
        Stage.VERIFY: settled or facts.is_repair_out,
        Stage.HAND_BACK: settled,
    }.get(to, False)
