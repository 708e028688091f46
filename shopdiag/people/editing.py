"""The one way in which shared records are edited on a page."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render

from shopdiag.people.access import MemberRequest
from shopdiag.people.services import SavedMeanwhileError
from shopdiag.people.versioned import VersionedForm


def edit_versioned(
    request: MemberRequest,
    *,
    form: VersionedForm,
    save: Callable[[VersionedForm], object],
    template: str,
    context: dict[str, Any],
    done: str,
    saved: str = "Saved.",
) -> HttpResponse:
    """Show a form, or save it through `save`, which calls a service with the form's version.

    When somebody else saved meanwhile, the page comes back with status 409: the form keeps
    what was typed, now on top of the other's version, and `conflict` tells both sides.
    """
    conflict = None
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                save(form)
            except SavedMeanwhileError as error:
                form, conflict = form.on_top_of(error.current)
                status = 409
            except ValidationError as error:
                form.add_error(None, error)
            else:
                messages.success(request, saved)
                return redirect(done)
    return render(request, template, {**context, "form": form, "conflict": conflict}, status=status)
