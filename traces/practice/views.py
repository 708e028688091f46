"""Pages of practice: one's own, an exercise, and the instructor's."""

from pathlib import Path
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import post_form
from traces.practice.forms import CaseForm, DrawForm, MarkForm
from traces.practice.models import Exercise
from traces.practice.selectors import (
    ExercisePage,
    cases_for,
    cases_set,
    exercise_page,
    home_of,
    standings,
)
from traces.practice.services import case_set, case_withdraw, exercise_add, exercise_answer

_PRACTICE_FILE = Path(__file__).parent / "data" / "practice-crank.csv"


def _address(exercise: Exercise) -> str:
    return reverse("practice:exercise", args=[exercise.pk])


@requires(Action.PRACTISE)
@require_http_methods(["GET", "POST"])
def home(request: MemberRequest) -> HttpResponse:
    """Show where the member stands, and have a capture drawn."""
    found = home_of(request.member)
    posted = request.POST if request.method == "POST" else None
    form = DrawForm(posted, reached=found.progress.level)
    return post_form(
        request,
        form=form,
        save=lambda: exercise_add(
            member=request.member,
            form_token=form.cleaned_data["form_token"],
            level=form.cleaned_data["level"],
        ),
        page="practice/home.html",
        context={"home": found},
        done=_address,
    )


@requires(Action.PRACTISE)
@require_POST
def begin(request: MemberRequest, case_pk: int) -> HttpResponse:
    """Have a capture drawn for a case that was set for the member."""
    case = get_object_or_404(cases_set(request.member), pk=case_pk)
    if not cases_for(request.member).filter(pk=case.pk).exists():
        begun = Exercise.objects.of(request.member).filter(set_case=case).first()
        return redirect(_address(begun) if begun else "practice:home")
    try:
        # One exercise for a case and a person: the case's own number is the token.
        made = exercise_add(
            member=request.member, form_token=UUID(int=case.pk), level=case.level, set_case=case
        )
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("practice:home")
    if made.set_case_id != case.pk:
        messages.info(request, _("Mark this one first; the case stays set for you."))
    return redirect(_address(made))


def _page(request: MemberRequest, pk: int) -> ExercisePage:
    return exercise_page(get_object_or_404(Exercise.objects.of(request.member), pk=pk))


def _mark_form(page: ExercisePage, posted: Any = None) -> MarkForm | None:  # noqa: ANN401 - Django's QueryDict
    if not page.is_drawn or page.solution:
        return None
    return MarkForm(posted, letters=page.letters, order=page.exercise.shown["order"])


@never_cache
@requires(Action.PRACTISE)
@require_http_methods(["GET", "POST"])
def exercise(request: MemberRequest, pk: int) -> HttpResponse:
    """Show a capture to mark, and its solution once it is marked."""
    page = _page(request, pk)
    if request.method == "GET" or not page.is_drawn:
        return render(request, "practice/exercise.html", {"page": page, "form": _mark_form(page)})
    form = MarkForm(request.POST, letters=page.letters, order=page.exercise.shown["order"])
    if page.solution:
        # Sent again, or from another window: what counts is on the page already.
        if not (form.is_valid() and form.answer == page.solution.answer):
            messages.info(request, _("This capture is answered already; the first answer counts."))
        return redirect(_address(page.exercise))
    return post_form(
        request,
        form=form,
        save=lambda: exercise_answer(
            exercise=page.exercise, member=request.member, answer=form.answer
        ),
        page="practice/exercise.html",
        context={"page": page},
        done=_address,
    )


@never_cache
@requires(Action.PRACTISE)
@require_GET
def state(request: MemberRequest, pk: int) -> HttpResponse:
    """Return what is to be marked as soon as it is drawn; the page asks until then."""
    page = _page(request, pk)
    return render(request, "practice/_exercise.html", {"page": page, "form": _mark_form(page)})


@requires(Action.SET_PRACTICE)
@require_http_methods(["GET", "POST"])
def team(request: MemberRequest) -> HttpResponse:
    """Show where everybody stands, and set a case."""
    posted = request.POST if request.method == "POST" else None
    form = CaseForm(posted, member=request.member)
    return post_form(
        request,
        form=form,
        save=lambda: case_set(member=request.member, **form.cleaned_data),
        page="practice/team.html",
        context={"people": standings(request.member), "cases": cases_set(request.member)},
        done=reverse("practice:team"),
        saved=_("The case is set."),
    )


@requires(Action.SET_PRACTICE)
@require_POST
def withdraw(request: MemberRequest, case_pk: int) -> HttpResponse:
    """Take a case back."""
    case_withdraw(set_case=get_object_or_404(cases_set(request.member), pk=case_pk))
    messages.success(request, _("The case is withdrawn."))
    return redirect("practice:team")


@requires(Action.PRACTISE)
@require_GET
def practice_file(_request: MemberRequest) -> HttpResponse:
    """Hand out the simulated recording that everybody may try an upload with."""
    answer = HttpResponse(_PRACTICE_FILE.read_bytes(), content_type="text/csv; charset=utf-8")
    answer.headers["Content-Disposition"] = f'attachment; filename="{_PRACTICE_FILE.name}"'
    return answer
