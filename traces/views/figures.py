"""Plots of runs and captures with what lies at their cursors, evidence, and the file as it came.

A plot's address says stretch and width, and its answer is packed (gzip). Packing can betray a
secret that stands beside words of a stranger's choosing (the BREACH attack); these answers hold
neither a token nor anything that the asker wrote, so it is safe here and done only here.
"""

import json
import math
from collections.abc import Callable
from typing import Any, TypeVar

from django.http import FileResponse, Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import cache_control
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import conditional_page, require_GET

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from traces.models import Reading, Work
from traces.selectors.cursor_values import Cursors, reading_values, run_values
from traces.selectors.figure_marks import View
from traces.selectors.figures import reading_figure, run_evidence, run_figure
from traces.selectors.samples import SAMPLES_GONE
from traces.views.found import capture_or_404, run_or_404

_NO_STRETCH = _("The stretch asked for is none; reload the page.")
_NO_CURSOR = _("A cursor stands at no time; set both cursors again.")
_PIXELS = (100, 4000)
_View = TypeVar("_View", bound=Callable[..., HttpResponse])


def _for_screens(view: _View) -> _View:
    """Pack the answer, and send it again only when it is another than the browser has.

    A note or a newer reading changes a plot under the same address, so the browser asks.
    """
    kept: _View = cache_control(private=True, no_cache=True)(view)
    packed: _View = gzip_page(conditional_page(kept))
    return packed


@require_GET
@requires(Action.SEE_WORK)
@_for_screens
def plot(request: MemberRequest, pk: int, run_pk: int) -> HttpResponse:
    """Return a run's plot as JSON for the stretch asked for."""
    found, view = run_or_404(request, pk, run_pk), _view(request)
    if view is None:
        return JsonResponse({"error": _NO_STRETCH}, status=400)
    return _answer(lambda: run_figure(found, view))


@require_GET
@requires(Action.SEE_WORK)
@_for_screens
def curve(request: MemberRequest, pk: int) -> HttpResponse:
    """Return a capture's channels as they were recorded, as JSON for the stretch asked for."""
    found, view = _reading_or_404(request, pk), _view(request)
    if view is None:
        return JsonResponse({"error": _NO_STRETCH}, status=400)
    return _answer(lambda: reading_figure(found, view, channels_asked_for(request)))


@require_GET
@requires(Action.SEE_WORK)
def run_values_at(request: MemberRequest, pk: int, run_pk: int) -> HttpResponse:
    """Return a run's samples at two cursors and what lies between them."""
    found, cursors = run_or_404(request, pk, run_pk), _cursors(request)
    if cursors is None:
        return JsonResponse({"error": _NO_CURSOR}, status=400)
    return _answer(lambda: run_values(found, cursors))


@require_GET
@requires(Action.SEE_WORK)
def values_at(request: MemberRequest, pk: int) -> HttpResponse:
    """Return a capture's samples at two cursors and what lies between them."""
    found, cursors = _reading_or_404(request, pk), _cursors(request)
    if cursors is None:
        return JsonResponse({"error": _NO_CURSOR}, status=400)
    return _answer(lambda: reading_values(found, cursors, channels_asked_for(request)))


@require_GET
@requires(Action.SEE_WORK)
@cache_control(private=True, max_age=300)
def evidence(request: MemberRequest, pk: int, run_pk: int) -> HttpResponse:
    """Return a run's evidence picture as SVG."""
    found = run_or_404(request, pk, run_pk)
    try:
        picture = run_evidence(found)
    except FileNotFoundError:
        raise Http404(_(SAMPLES_GONE)) from None
    if picture is None:
        raise Http404
    context = {"picture": picture, "id": f"evidence-{run_pk}"}
    return render(request, "traces/evidence.svg", context, content_type="image/svg+xml")


@require_GET
@requires(Action.SEE_WORK)
@cache_control(private=True, no_cache=True)
def original(request: MemberRequest, pk: int) -> FileResponse:
    """Hand out the file as it came."""
    found = capture_or_404(request, pk)
    try:
        file = found.original.open("rb")
    except FileNotFoundError:
        raise Http404 from None
    return FileResponse(
        file,
        as_attachment=True,
        filename=found.original_name,
        # Never a type that a browser would show.
        content_type="application/octet-stream",
    )


def _reading_or_404(request: MemberRequest, pk: int) -> Reading:
    found = capture_or_404(request, pk).reading
    if found.state != Work.State.DONE:
        raise Http404
    return found


def _answer(found: Callable[[], dict[str, Any]]) -> HttpResponse:
    try:
        content = json.dumps(found(), separators=(",", ":"), allow_nan=False)
    except FileNotFoundError:
        return JsonResponse({"error": _(SAMPLES_GONE)}, status=404)
    return HttpResponse(content, content_type="application/json")


def channels_asked_for(request: HttpRequest) -> list[int]:
    """Return the indices of the channels asked for, which count from 1 in addresses."""
    asked = [c for c in request.GET.getlist("channel") if c.isascii() and c.isdigit()]
    return [int(c) - 1 for c in asked if len(c) < 6]


def _view(request: HttpRequest) -> View | None:
    """Return the stretch asked for and the screen's width, None where it is no stretch."""
    found = _times(request, "from", "to")
    if found is None:
        return None
    first, last = found
    if first is not None and last is not None and first >= last:
        return None
    width = request.GET.get("pixels", "")
    if not (width.isascii() and width.isdigit() and len(width) < 10):
        return View(first, last)
    return View(first, last, min(max(int(width), _PIXELS[0]), _PIXELS[1]))


def _cursors(request: HttpRequest) -> Cursors | None:
    found = _times(request, "a", "b")
    return None if found is None else Cursors(*found)


def _times(request: HttpRequest, *names: str) -> list[float | None] | None:
    """Return times asked for; None for one not given, and None for all where one is no time."""
    times: list[float | None] = []
    for name in names:
        asked = request.GET.get(name)
        try:
            times.append(None if asked in (None, "") else float(str(asked)))
        except ValueError:
            return None
    return None if any(t is not None and not math.isfinite(t) for t in times) else times
