"""What a run gives to take along: its data, its result, and a case for a colleague."""

import math

from django.http import (
    FileResponse,
    Http404,
    HttpRequest,
    HttpResponse,
    HttpResponseBase,
    JsonResponse,
    StreamingHttpResponse,
)
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from traces.core.case import Part
from traces.core.exports import EmptyStretchError
from traces.selectors.exports import export_name, run_case, run_result, run_table
from traces.selectors.samples import SAMPLES_GONE
from traces.views.found import run_or_404

_PARTS: dict[str, Part] = {"crank": "crank", "whole": "whole"}


class _AskedWronglyError(ValueError):
    """The address asks for what cannot be; the text is one sentence."""


@require_GET
@requires(Action.SEE_WORK)
def data(request: MemberRequest, pk: int, run_pk: int) -> HttpResponseBase:
    """Return a run's samples as text with columns, all of them or a stretch."""
    run = run_or_404(request, pk, run_pk)
    try:
        from_s, to_s = _stretch(request)
        rows = run_table(run, numbers=_numbers(request), from_s=from_s, to_s=to_s)
    except (_AskedWronglyError, EmptyStretchError) as error:
        return _sentence(str(error), 400)
    except LookupError:
        raise Http404 from None
    except FileNotFoundError:
        return _sentence(_(SAMPLES_GONE), 404)
    response = StreamingHttpResponse(rows, content_type="text/csv; charset=utf-8; header=present")
    response.headers["Content-Disposition"] = (
        f'attachment; filename="{export_name(run, "data")}.csv"'
    )
    return response


@require_GET
@requires(Action.SEE_WORK)
def result(request: MemberRequest, pk: int, run_pk: int) -> HttpResponse:
    """Return a run's result as JSON, the same as the command line prints."""
    run = run_or_404(request, pk, run_pk)
    found = run_result(run)
    if found is None:
        raise Http404
    response = JsonResponse(found, json_dumps_params={"ensure_ascii": False})
    response.headers["Content-Disposition"] = (
        f'attachment; filename="{export_name(run, "result")}.json"'
    )
    return response


@require_GET
@requires(Action.SEE_WORK)
def case(request: MemberRequest, pk: int, run_pk: int) -> HttpResponseBase:
    """Return a run as one file without personal data; only when asked how much of it."""
    run = run_or_404(request, pk, run_pk)
    part = request.GET.get("part", "")
    if part not in _PARTS:
        sentence = _(
            "Choose on the capture's page whether the crank alone or all of it goes along."
        )
        return _sentence(sentence, 400)
    try:
        written = run_case(run, _PARTS[part])
    except FileNotFoundError:
        return _sentence(_(SAMPLES_GONE), 404)
    if written is None:
        raise Http404
    return FileResponse(
        written.file, as_attachment=True, filename=written.name, content_type="application/zip"
    )


def _sentence(words: str, status: int) -> HttpResponse:
    return HttpResponse(words, status=status, content_type="text/plain; charset=utf-8")


def _numbers(request: HttpRequest) -> list[int]:
    asked = request.GET.getlist("channel")
    if not all(is_row_id(number) for number in asked):
        raise _AskedWronglyError(_("Channels are asked for by their number from 1."))
    return [int(number) for number in asked]


def _stretch(request: HttpRequest) -> tuple[float | None, float | None]:
    """Return the stretch asked for; as empty as the boxes were."""
    bounds: list[float | None] = []
    for name in ("from", "to"):
        asked = request.GET.get(name, "").strip().replace(",", ".")
        try:
            bounds.append(float(asked) if asked else None)
        except ValueError:
            raise _AskedWronglyError(_("Give from and to as seconds, like 1.25.")) from None
        if bounds[-1] is not None and not math.isfinite(bounds[-1]):
            raise _AskedWronglyError(_("Give from and to as seconds, like 1.25."))
    first, last = bounds
    if first is not None and last is not None and first >= last:
        raise _AskedWronglyError(_("The stretch must end after it begins."))
    return first, last
