"""The one way in which forms are taken on a page, and shared records edited."""

from collections.abc import Callable, Mapping
from typing import Any, Protocol, TypeVar

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from shopdiag.people.access import MemberRequest
from shopdiag.people.saved_forms import saved_answer
from shopdiag.people.services import SavedMeanwhileError
from shopdiag.people.versioned import Conflict

_Saved = TypeVar("_Saved")


class AnyForm(Protocol):
    """What is asked of a form, be it one or several in one."""

    @property
    def fields(self) -> Mapping[str, Any]:
        """The fields that a sentence can stand beside."""

    def is_valid(self) -> bool:
        """Return whether everything typed can be taken."""

    def add_error(self, field: str | None, error: Any) -> None:  # noqa: ANN401 - Django's signature
        """Put a sentence beside a field, or beside none."""


class EditForm(AnyForm, Protocol):
    """A form that can be laid on top of what somebody else saved meanwhile."""

    def on_top_of(self, current: Any) -> "tuple[EditForm, Conflict]":  # noqa: ANN401 - its record
        """Return this input on top of `current`, and what the two disagree about."""


_Form = TypeVar("_Form", bound=EditForm)


def post_form(
    request: HttpRequest,
    *,
    form: AnyForm,
    save: Callable[[], _Saved],
    page: str | Callable[[int], HttpResponse],
    done: str | Callable[[_Saved], str],
    context: dict[str, Any] | None = None,
    saved: str | Callable[[_Saved], str] = "",
    refusal: type[Exception] = ValidationError,
    called: Mapping[str, str] | None = None,
) -> HttpResponse:
    """Show a form, or save it through `save`, which calls a service; refused it comes back as 422.

    Parameters
    ----------
    page
        The template, which gets `context` and the form; or what renders the page with a status.
    done, saved
        Where it goes on, and what is said there; of what `save` returned where that matters.
    refusal
        What the service raises where it does not take the form; put beside the fields it names.
    called
        What the form calls fields that the service names otherwise.
    """
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                made = save()
            except refusal as error:
                _put_errors(form, error, called or {})
            else:
                if words := saved(made) if callable(saved) else saved:
                    messages.success(request, words)
                return saved_answer(request, done(made) if callable(done) else done)
    if callable(page):
        return page(status)
    return render(request, page, {**(context or {}), "form": form}, status=status)


def _put_errors(form: AnyForm, error: Exception, called: Mapping[str, str]) -> None:
    """Put a service's sentences beside the fields they are about, as far as the form has them."""
    if not isinstance(error, ValidationError):
        form.add_error(None, str(error))
    elif hasattr(error, "error_dict"):
        for name, errors in error.error_dict.items():
            field = called.get(name, name)
            form.add_error(field if field in form.fields else None, errors)
    else:
        form.add_error(None, error)


def edit_versioned(
    request: MemberRequest,
    *,
    form: _Form,
    save: Callable[[_Form], object],
    template: str,
    context: dict[str, Any],
    done: str | Callable[[object], str],
    saved: str = "Saved.",
) -> HttpResponse:
    """Show a form, or save it through `save`, which calls a service with the form's version.

    When somebody else saved meanwhile, the page comes back with status 409: the form keeps
    what was typed, now on top of the other's version, and `conflict` tells both sides.
    """
    context = {"conflict": None, **context}
    try:
        return post_form(
            request,
            form=form,
            save=lambda: save(form),
            page=template,
            context=context,
            done=done,
            saved=saved,
        )
    except SavedMeanwhileError as error:
        on_top, conflict = form.on_top_of(error.current)
    context |= {"form": on_top, "conflict": conflict}
    return render(request, template, context, status=409)
