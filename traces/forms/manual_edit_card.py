"""What a capture's page offers a hand: the run as it is, and a form for each change."""

from dataclasses import dataclass

from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member
from traces.forms.manual_edits import MANUAL_EDIT_FORMS, ManualEditForm, StepForm
from traces.selectors.captures import CapturePage
from traces.selectors.hand import HandState, hand_state


@dataclass(frozen=True, slots=True)
class HandCard:
    """All that a page offers a hand.

    Parameters
    ----------
    state
        The run as it is.
    forms
        One for each change, by name with underscores.
    undo, redo
        Forms of a button each.
    sent
        The form with mistakes, where one was sent.
    """

    state: HandState
    forms: dict[str, ManualEditForm]
    undo: StepForm
    redo: StepForm
    sent: ManualEditForm | StepForm | None

    @property
    def cycles_wrong(self) -> bool:
        """Whether a choice of cycles was sent with a mistake."""
        return bool(self.forms["leave_out"].errors or self.forms["take_back"].errors)

    @property
    def engine_wrong(self) -> bool:
        """Whether a change of engine or sync was sent with a mistake."""
        return any(self.forms[name].errors for name in ("engine", "sync", "no_sync"))


def hand_card(
    member: Member, page: CapturePage, sent: ManualEditForm | StepForm | None = None
) -> HandCard | None:
    """Return what a page offers a hand; None where there is nothing to change or nobody to.

    Parameters
    ----------
    sent
        A form with mistakes, in place of its own.
    """
    if page.outcome is None or not member.may(Action.CAPTURE):
        return None
    if page.outcome.run.reading_id != page.reading.pk:
        # The file was read anew since: times of this run may mean others.
        return None
    state = hand_state(page.outcome.run.setup, page.outcome.report)
    offered = {do: form(member=member, state=state) for do, form in MANUAL_EDIT_FORMS.items()}
    if isinstance(sent, ManualEditForm):
        offered[sent.do] = sent
    return HandCard(
        state=state,
        forms={do.replace("-", "_"): form for do, form in offered.items()},
        undo=_step("undo", sent),
        redo=_step("redo", sent),
        sent=sent,
    )


def undo_waiting(
    member: Member, page: CapturePage, sent: ManualEditForm | StepForm | None = None
) -> StepForm | None:
    """Return what undoes a change whose result is not there yet; None where there is no such."""
    run = page.run
    if run is None or page.outcome is not None or not member.may(Action.CAPTURE):
        return None
    return _step("undo", sent) if run.setup.came_from_id is not None else None


def _step(do: str, sent: ManualEditForm | StepForm | None) -> StepForm:
    return sent if isinstance(sent, StepForm) and sent.do == do else StepForm(do)
