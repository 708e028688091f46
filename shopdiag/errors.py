"""Pages for what went wrong before a view was reached."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:  # noqa: ARG001
    """Say that the page was too old to save from, and what to do."""
    return render(request, "403_csrf.html", status=403)
