"""Pages for what went wrong before a view was reached."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from shopdiag.people.kept_forms import came_from_here, form_kept
from shopdiag.people.kept_labels import typed_lines


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:  # noqa: ARG001
    """Say that the page was too old to save from, and give back what was typed on it.

    Only where the browser says that the form stood on a page of this site: then it may be sent
    again with a fresh token by whoever reads it.
    """
    kept = form_kept(request) if came_from_here(request) else None
    if kept is not None:
        context = {"kept": kept, "typed": typed_lines(request, kept)}
        return render(request, "people/kept.html", context, status=403)
    return render(request, "403_csrf.html", status=403)
