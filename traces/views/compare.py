"""A run beside another, and the shop's library of known-good ones."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.editing import post_form
from traces.forms.known_good import KeepForm, KnownGoodFilter
from traces.models import KnownGood, Run
from traces.selectors.compare import ComparedRuns, Occasion, choices_for, compare_figure, compared
from traces.selectors.known_good import known_good_found, known_good_row
from traces.services import is_plainly_good, known_good_keep, known_good_retire
from traces.views.found import run_or_404
from traces.views.pages import back_address

_PER_PAGE = 20


@require_GET
@requires(Action.SEE_WORK)
def compare(request: MemberRequest, pk: int, run_pk: int) -> HttpResponse:
    """Offer what a run can be laid beside, and lay it there."""
    run = run_or_404(request, pk, run_pk)
    context = {
        "run": run,
        "found": _compared(request, run) if request.GET.get("with") else None,
        "choices": choices_for(request.member, run),
        "next": back_address(request),
        "asked": urlencode({k: request.GET[k] for k in ("with", "occasion") if k in request.GET}),
    }
    return render(request, "traces/compare.html", context)


@require_GET
@requires(Action.SEE_WORK)
@cache_control(private=True, no_cache=True)
def plot(request: MemberRequest, pk: int, run_pk: int) -> HttpResponse:
    """Return both curves by crank angle as JSON, for looking closer."""
    found = _compared(request, run_or_404(request, pk, run_pk))
    figure = compare_figure(found)
    if figure is None:
        comparison = found.comparison
        why = found.refused or (comparison.why_no_curves if comparison else "")
        return JsonResponse({"error": why}, status=404)
    return JsonResponse(figure)


@require_GET
@requires(Action.SEE_WORK)
def known_good(request: MemberRequest) -> HttpResponse:
    """Show the shop's known-good captures by engine."""
    form = KnownGoodFilter(request.GET, member=request.member)
    asked = form.cleaned_data if form.is_valid() else {}
    entries = known_good_found(
        request.member, engine=asked.get("engine"), retired=asked.get("retired", False)
    )
    page = Paginator(entries, _PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "form": form,
        "page": page,
        "rows": [known_good_row(entry) for entry in page.object_list],
        "filtered": any(asked.values()),
    }
    return render(request, "traces/known_good.html", context)


@require_http_methods(["GET", "POST"])
@requires(Action.CAPTURE)
def keep(request: MemberRequest, pk: int, run_pk: int) -> HttpResponse:
    """Keep a run as known good."""
    run = run_or_404(request, pk, run_pk)
    back = back_address(request) or reverse("traces:run", args=[pk, run_pk])
    form = KeepForm(request.POST or None, uneven=not is_plainly_good(run))
    return post_form(
        request,
        form=form,
        save=lambda: known_good_keep(
            member=request.member,
            run=run,
            note=form.cleaned_data["note"],
            although_uneven=form.cleaned_data.get("although_uneven", False),
        ),
        page="traces/known_good_keep.html",
        context={"run": run, "back": back, "next": back_address(request)},
        done=back,
        saved=_("Kept as known good for this engine."),
    )


@require_POST
@requires(Action.CAPTURE)
def retire(request: MemberRequest, entry_pk: int) -> HttpResponse:
    """Take an entry out of the library, or bring it back with `retired=no`."""
    entry = get_object_or_404(KnownGood.objects.seen_by(request.member), pk=entry_pk)
    retired = request.POST.get("retired") != "no"
    changed = known_good_retire(member=request.member, entry=entry, retired=retired)
    if retired:
        messages.success(request, _("Retired: it is no longer offered to compare with."))
    elif changed:
        messages.success(request, _("Back in the library."))
    else:
        messages.info(request, _("This analysis is in the library already; nothing was changed."))
    return redirect(back_address(request) or reverse("traces:known-good"))


def _compared(request: MemberRequest, run: Run) -> ComparedRuns:
    asked = request.GET.get("with", "")
    if not is_row_id(asked):
        raise Http404
    occasion: Occasion = "repair" if request.GET.get("occasion") == "repair" else ""
    try:
        return compared(request.member, run, int(asked), occasion)
    except Run.DoesNotExist:
        raise Http404 from None
