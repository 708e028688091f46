"""A run's plot and evidence picture, and the file as it came."""

import math

from django.http import FileResponse, Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_GET

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from traces.models import Capture, Run
from traces.selectors.captures import capture_get, run_get
from traces.selectors.figure_marks import View
from traces.selectors.figures import run_evidence, run_figure

_GONE = "The samples of this capture are not on this server any more; have the file read again."


@require_GET
@requires(Action.SEE_WORK)
@cache_control(private=True, max_age=300)
def plot(request: MemberRequest, pk: int, run_pk: int) -> HttpResponse:
    """Return a run's plot as JSON for the stretch asked for."""
    found = _run_or_404(request, pk, run_pk)
    view = _view(request)
    if view is None:
        sentence = "The stretch asked for is none; reload the page."
        return JsonResponse({"error": sentence}, status=400)
    try:
        return JsonResponse(run_figure(found, view))
    except FileNotFoundError:
        return JsonResponse({"error": _GONE}, status=404)


@require_GET
@requires(Action.SEE_WORK)
@cache_control(private=True, max_age=300)
def evidence(request: MemberRequest, pk: int, run_pk: int) -> HttpResponse:
    """Return a run's evidence picture as SVG."""
    found = _run_or_404(request, pk, run_pk)
    try:
        picture = run_evidence(found)
    except FileNotFoundError:
        raise Http404(_GONE) from None
    if picture is None:
        raise Http404
    context = {"picture": picture, "id": f"evidence-{run_pk}"}
    return render(request, "traces/evidence.svg", context, content_type="image/svg+xml")


@require_GET
@requires(Action.SEE_WORK)
@cache_control(private=True, no_cache=True)
def original(request: MemberRequest, pk: int) -> FileResponse:
    """Hand out the file as it came."""
    try:
        found = capture_get(request.member, pk)
        file = found.original.open("rb")
    except (Capture.DoesNotExist, FileNotFoundError):
        raise Http404 from None
    return FileResponse(
        file,
        as_attachment=True,
        filename=found.original_name,
        # Never a type that a browser would show.
        content_type="application/octet-stream",
    )


def _run_or_404(request: MemberRequest, pk: int, run_pk: int) -> Run:
    try:
        return run_get(request.member, pk, run_pk)
    except Run.DoesNotExist:
        raise Http404 from None


def _view(request: HttpRequest) -> View | None:
    """Return the stretch asked for, None where it is none."""
    bounds = []
    for name in ("from", "to"):
        asked = request.GET.get(name)
        try:
            bounds.append(None if asked in (None, "") else float(str(asked)))
        except ValueError:
            return None
    if any(b is not None and not math.isfinite(b) for b in bounds):
        return None
    first, last = bounds
    if first is not None and last is not None and first >= last:
        return None
    return View(first, last)
