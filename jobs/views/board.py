"""The board."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from jobs.selectors.board import board_of
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action


@requires(Action.SEE_WORK)
@require_safe
def board(request: MemberRequest) -> HttpResponse:
    """Show the open visits by stage, and a mechanic's work orders first."""
    return render(request, "jobs/board.html", {"board": board_of(request.member)})
