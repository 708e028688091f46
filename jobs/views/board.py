"""The board."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from jobs.selectors.board import board_of
from jobs.selectors.first_steps import first_steps
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action


@requires(Action.SEE_WORK)
@require_safe
def board(request: MemberRequest) -> HttpResponse:
    """Show the open visits by stage, and a mechanic's work orders first."""
    context = {"board": board_of(request.member), "steps": first_steps(request.member)}
    return render(request, "jobs/board.html", context)
