"""Having a case analysed as its sender did."""

from uuid import UUID

from django.utils.translation import gettext as _

from shopdiag.people.models import Member
from traces.core.setup import SetupError
from traces.models import Capture, Run
from traces.selectors.cases import case_of, engine_of
from traces.services.runs import run_add


def case_run_add(*, member: Member, capture: Capture, form_token: UUID | None = None) -> Run:
    """Analyse a case under the sender's own set-up, limits and changes by hand included.

    Raises
    ------
    SetupError
        If the capture is no case, or no engine of the shop's list fires like the sender's.
    TokenUsedError
        If the form token was used for another capture.
    """
    case = case_of(capture.reading)
    if case is None:
        raise SetupError(
            _("This capture is no case of a colleague's; set the analysis up instead.")
        )
    engine = engine_of(member, case)
    if engine is None:
        raise SetupError(
            _(
                "No engine of your list fires %(firing_order)s as the sender's does; set "
                "the analysis up and choose one, or add it to your engines first."
            )
            % {"firing_order": case.setup.firing_order}
        )
    return run_add(
        member=member,
        capture=capture,
        analysis=case.setup,
        engine=engine,
        conditions=case.conditions,
        form_token=form_token,
    )
