"""Pages of the engine library."""

from collections.abc import Iterable
from itertools import groupby

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from engines import selectors, services
from engines.access_form import AccessForm
from engines.core.drawing import plan_drawing
from engines.core.positions import place_words
from engines.forms import EngineEditForm, EngineFilter, EngineForm
from engines.models import Engine
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.core.roles import Action
from shopdiag.people.editing import edit_versioned, post_form
from shopdiag.people.services import SavedMeanwhileError

_PER_PAGE = 100
_MOST_OPEN = 12
"""Engines that a heading shows without being asked."""


@require_GET
@requires(Action.SEE_WORK)
def engine_list(request: MemberRequest) -> HttpResponse:
    """Show the library and the shop's own engines."""
    form = EngineFilter(request.GET, counts=selectors.cylinder_counts(request.member))
    asked = form.cleaned_data if form.is_valid() else {}
    engines = selectors.engines_found(
        request.member,
        text=asked.get("q", ""),
        cylinders=asked.get("cylinders"),
        retired=asked.get("retired", False),
    )
    page = Paginator(engines, _PER_PAGE).get_page(request.GET.get("page"))
    is_filtered = any(asked.values())
    return render(
        request,
        "engines/list.html",
        {
            "form": form,
            "page": page,
            "groups": _grouped(page, is_filtered),
            "filtered": is_filtered,
        },
    )


def _grouped(engines: Iterable[Engine], is_filtered: bool) -> list[tuple[str, list[Engine], bool]]:
    """Return engines under headings, and whether each is open: the shop's own, the library's."""
    groups = []
    for cylinders, some in groupby(engines, lambda e: e.cylinders if e.is_library else 0):
        heading = ngettext("%(count)s cylinder", "%(count)s cylinders", cylinders)
        title = heading % {"count": cylinders} if cylinders else _("Your shop's engines")
        listed = list(some)
        is_open = (is_filtered or not cylinders) and len(listed) <= _MOST_OPEN
        groups.append((title, listed, is_open))
    return groups


@require_GET
@requires(Action.SEE_WORK)
def engine_detail(request: MemberRequest, pk: int) -> HttpResponse:
    """Show one engine: order, angles, where the cylinders sit, and where that comes from."""
    engine = _seen(request, pk)
    kept = selectors.access_by_bank(request.member.shop, engine)
    return _detail(request, engine, AccessForm(engine=engine, kept=kept))


@require_POST
@requires(Action.KEEP_ENGINES)
def engine_access(request: MemberRequest, pk: int) -> HttpResponse:
    """Keep how long the plugs of each bank take to reach; the library's engines too."""
    engine = _seen(request, pk)
    kept = selectors.access_by_bank(request.member.shop, engine)
    form = AccessForm(request.POST, engine=engine, kept=kept)
    return post_form(
        request,
        form=form,
        save=lambda: services.access_keep(
            member=request.member,
            engine=engine,
            minutes=form.minutes,
            note=form.cleaned_data["note"],
            form_token=form.cleaned_data["form_token"],
            confirmed=is_confirmed(form),
        ),
        page=lambda status: _detail(request, engine, form, status),
        done=reverse("engines:detail", args=[engine.pk]),
        saved=_("Kept with this engine; the next work order counts with it."),
    )


def _detail(
    request: MemberRequest, engine: Engine, access_form: AccessForm, status: int = 200
) -> HttpResponse:
    geometry = engine.geometry
    kept = selectors.access_by_bank(request.member.shop, engine)
    firings = [
        {
            "cylinder": cylinder,
            "angle_deg": angle_deg,
            "gap_deg": gap_deg,
            "where": place_words(geometry.places, cylinder),
            "companion": geometry.companion_of(cylinder),
            "neighbours": geometry.neighbours_of(cylinder),
        }
        for (cylinder, angle_deg), gap_deg in zip(
            geometry.order, geometry.order.intervals_deg, strict=True
        )
    ]
    return render(
        request,
        "engines/detail.html",
        {
            "engine": engine,
            "firings": firings,
            "order": geometry.order,
            "layout": geometry.layout,
            # what is usual where the kind fires evenly is not where this one does not
            "bank_angle_told": geometry.layout.bank_angle_deg is not None
            and (geometry.layout.odd_fire or geometry.order.is_even),
            "drawing": plan_drawing(geometry),
            "access": sorted(kept.values(), key=lambda row: row.bank),
            "access_newest": max(kept.values(), key=lambda row: row.pk, default=None),
            "access_form": access_form,
        },
        status=status,
    )


@require_http_methods(["GET", "POST"])
@requires(Action.KEEP_ENGINES)
def engine_new(request: MemberRequest) -> HttpResponse:
    """Add an own engine, blank or as a copy of one in the list."""
    if request.method != "POST":
        source = _seen(request, _copy_pk(request)) if "copy" in request.GET else None
        form = EngineForm(engine=source, initial={"name": _copy_name(source)} if source else None)
        return render(request, "engines/form.html", {"form": form, "copy_of": source})
    form = EngineForm(request.POST)
    return post_form(
        request,
        form=form,
        save=lambda: services.engine_create(member=request.member, given=form.given),
        page="engines/form.html",
        done=lambda engine: reverse("engines:detail", args=[engine.pk]),
        saved=lambda engine: _("“%(engine)s” is in your list of engines.") % {"engine": engine},
    )


@require_http_methods(["GET", "POST"])
@requires(Action.KEEP_ENGINES)
def engine_edit(request: MemberRequest, pk: int) -> HttpResponse:
    """Change one of the shop's own engines."""
    engine = _kept(request, pk)
    return edit_versioned(
        request,
        form=EngineEditForm(request.POST or None, engine=engine),
        save=lambda form: services.engine_change(
            engine=engine,
            expected_version=form.expected_version,
            member=request.member,
            given=form.given,
        ),
        template="engines/form.html",
        context={"engine": engine, "stands_as": str(engine)},
        done=reverse("engines:detail", args=[engine.pk]),
        saved=_("Saved. Analyses that ran before keep what they used."),
    )


@require_POST
@requires(Action.KEEP_ENGINES)
def engine_retire(request: MemberRequest, pk: int) -> HttpResponse:
    """Take an own engine out of the lists, or bring it back with `retired=no`."""
    engine = _kept(request, pk)
    retired = request.POST.get("retired") != "no"
    try:
        services.engine_retire(engine=engine, member=request.member, retired=retired)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    except SavedMeanwhileError:
        messages.error(
            request, _("Somebody else changed this engine just now; look and try again.")
        )
    else:
        messages.success(
            request,
            _("Retired: it is no longer offered for new captures.")
            if retired
            else _("Back in the list."),
        )
    return redirect("engines:detail", pk)


def _seen(request: MemberRequest, pk: int) -> Engine:
    return get_object_or_404(Engine.objects.seen_by(request.member), pk=pk)


def _kept(request: MemberRequest, pk: int) -> Engine:
    return get_object_or_404(Engine.objects.kept_by(request.member), pk=pk)


def _copy_pk(request: MemberRequest) -> int:
    try:
        return int(request.GET["copy"])
    except ValueError:
        raise Http404(_("No such engine")) from None


def _copy_name(source: Engine) -> str:
    return _("%(name)s (ours)") % {"name": source.name[:100]}
