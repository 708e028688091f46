"""A person's corrections of a run: each makes a new run, and each can be taken back."""

from uuid import UUID

from django.utils.translation import gettext_lazy as _

from engines.models import Engine
from shopdiag.people.models import Member
from traces.core.setup import Changed, SetupError
from traces.models import CaptureSetup, Run
from traces.selectors.hand import undone_after
from traces.services.runs import run_add

OTHER_SAMPLES = _(
    "This analysis is of an earlier reading of the file; analyse the capture with another set-up "
    "first, then change that by hand."
)
NOTHING_TO_UNDO = _("There is no change by hand to take back here.")
NOTHING_TO_REDO = _("There is no change to make again here.")


def run_adjust(
    *,
    member: Member,
    run: Run,
    changed: Changed,
    engine: Engine | None = None,
    form_token: UUID | None = None,
) -> Run:
    """Judge a run's capture again with what a hand changed; the run itself stays.

    Parameters
    ----------
    changed
        The new set-up, made from the run's own.
    engine
        Another engine; None keeps the run's.

    Raises
    ------
    SetupError
        If the file cannot answer the new set-up, or was read anew since, so that times of the
        run may mean others; one sentence for the person.
    """
    if run.reading_id != run.capture.current_reading_id:
        raise SetupError(OTHER_SAMPLES)
    return run_add(
        member=member,
        capture=run.capture,
        analysis=changed.analysis,
        engine=engine or run.setup.engine,
        conditions=run.setup.conditions,
        form_token=form_token,
        came_from=run.setup,
        change=changed.words,
    )


def run_undo(*, member: Member, run: Run, form_token: UUID | None = None) -> Run:
    """Go back to the set-up that a run's was changed from, as a new run.

    The new run takes the place of the one before the change, so that undoing goes on to the
    first.

    Raises
    ------
    SetupError
        If no hand changed anything.
    """
    if run.setup.came_from is None:
        raise SetupError(NOTHING_TO_UNDO)
    return _again(member, run.setup.came_from, run.setup.came_from.came_from, form_token)


def run_redo(*, member: Member, run: Run, form_token: UUID | None = None) -> Run:
    """Make the change again that was taken back last, as a new run.

    Raises
    ------
    SetupError
        If none was.
    """
    undone = undone_after(run.setup)
    if undone is None:
        raise SetupError(NOTHING_TO_REDO)
    return _again(member, undone, run.setup, form_token)


def _again(
    member: Member, setup: CaptureSetup, came_from: CaptureSetup | None, form_token: UUID | None
) -> Run:
    return run_add(
        member=member,
        capture=setup.capture,
        analysis=setup.analysis,
        engine=setup.engine,
        conditions=setup.conditions,
        form_token=form_token,
        came_from=came_from,
        change=setup.change,
        same_as=setup.run,
    )
