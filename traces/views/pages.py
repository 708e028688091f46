"""A capture's page, its state while the worker is busy, and its set-up."""

from typing import Any, get_args
from urllib.parse import urlsplit
from uuid import uuid4

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from engines.models import Engine
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.editing import post_form
from traces.core.proposal import Proposal
from traces.core.setup import (
    Fuel,
    SetupError,
    capture_cautions,
    running_cautions,
    transducer_cautions,
)
from traces.forms.manual_edit_card import hand_card, undo_waiting
from traces.forms.manual_edits import ManualEditForm, StepForm
from traces.forms.pins import PinForm
from traces.forms.setup import SetupForm
from traces.forms.setup_offers import setup_initial
from traces.forms.setup_page import setup_page, setup_proposal, with_proposal
from traces.models import Capture
from traces.selectors.captures import CapturePage, capture_page
from traces.selectors.cases import SENT_SETUP, sent_case, sent_setup
from traces.selectors.figures import MOST_CHANNELS, chosen_channels
from traces.selectors.notes import pinned_notes
from traces.selectors.offered_setups import last_setup, setup_source
from traces.selectors.pressure_page import NOTHING_BESIDE, pressure_page
from traces.selectors.sparklines import sparklines
from traces.services import reading_retry, run_add
from traces.views.figures import channels_asked_for
from traces.views.found import capture_or_404, run_or_404

_MOST_BATTERY_V = 60.0
THEN_SETUP = "set-up"
"""What `then` in a capture's address says of a file that was just sent: go on to its set-up."""


@require_GET
@requires(Action.SEE_WORK)
def capture(request: MemberRequest, pk: int) -> HttpResponse:
    """Show a capture with its newest run."""
    context = capture_context(request, pk)
    if context["goes_on"]:
        return redirect(context["setup_url"])
    return render(request, "traces/capture.html", context)


@require_GET
@requires(Action.SEE_WORK)
def run(request: MemberRequest, pk: int, run_pk: int) -> HttpResponse:
    """Show a capture with one of its runs."""
    return render(request, "traces/capture.html", capture_context(request, pk, run_pk))


@never_cache
@require_GET
@requires(Action.SEE_WORK)
def state(request: MemberRequest, pk: int) -> HttpResponse:
    """Return what the capture's page shows now; the page asks while work goes on.

    Once everything is settled the answer stops the asking and tells the page around it by
    the event `capture-settled`. A file that was just sent goes on to its set-up instead.
    """
    run_pk = request.GET.get("run", "")
    context = capture_context(request, pk, int(run_pk) if is_row_id(run_pk) else None)
    if context["goes_on"]:
        return HttpResponse(headers={"HX-Redirect": context["setup_url"]})
    response = render(request, "traces/_capture.html", context)
    if context["page"].is_settled:
        response.headers["HX-Trigger-After-Settle"] = "capture-settled"
    return response


@require_http_methods(["GET", "POST"])
@requires(Action.CAPTURE)
def setup(request: MemberRequest, pk: int) -> HttpResponse:
    """Ask how a capture is to be analysed, and have it done."""
    found = capture_or_404(request, pk)
    back = back_address(request) or reverse("traces:capture", args=[pk])
    page = capture_page(found)
    if not page.can_be_set_up:
        messages.info(
            request, _("The file is not read yet; its channels can be chosen after that.")
        )
        return redirect(back)
    reading = found.reading
    offered_from = ""
    if request.method == "POST" and "show" not in request.POST:
        form = SetupForm(request.POST, member=request.member, reading=reading)
        proposal = setup_proposal(reading, form.engine_chosen, request.POST.get("fuel", ""), {})
    else:
        initial, offered_from, proposal = _setup_offered(request, found)
        if request.method == "POST":
            # another engine is chosen: its cylinders are shown, and all else stays as it was
            initial = request.POST.dict()
        form = SetupForm(initial=initial, member=request.member, reading=reading)
        if request.method == "POST":
            proposal = setup_proposal(
                reading, form.engine_chosen, str(initial.get("fuel", "")), initial
            )

    def shown(status: int) -> HttpResponse:
        context = {
            "page": page,
            "form": form,
            "offered_from": offered_from,
            "cautions": capture_cautions(None, None),
            "running_cautions": running_cautions(None),
            "transducer_cautions": transducer_cautions(None, None),
            "offer": setup_page(form, reading, sparklines(reading), proposal),
            "back": back,
            "next": back_address(request),
            "measures": bool(form["measured_channel"].value()),
            "opened": bool(form["opened_plug"].value()),
        }
        return render(request, "traces/setup.html", context, status=status)

    if "show" in request.POST:
        return shown(200)
    return post_form(
        request,
        form=form,
        save=lambda: run_add(
            member=request.member,
            capture=found,
            engine=form.given.engine,
            analysis=form.given.analysis,
            conditions=form.given.conditions,
            form_token=form.cleaned_data["form_token"],
            angle_known_from=form.given.angle_known_from,
        ),
        page=shown,
        done=back,
        refusal=SetupError,
    )


def _setup_offered(
    request: MemberRequest, found: Capture
) -> tuple[dict[str, Any], str, Proposal | None]:
    """Return what a new set-up begins with, where that comes from, and what the file suggests."""
    reading, asked_for = found.reading, _engine_asked_for(request)
    sent = sent_case(request.member, reading)
    last = last_setup(request.member, found)
    offered_from = setup_source(last, found) if last else ""
    if sent and (last is None or last.capture_id != found.pk):
        last = sent_setup(sent.case, found, sent.engine or asked_for)
        offered_from = str(SENT_SETUP)
    initial = setup_initial(reading, last, asked_for, _fuel_asked_for(request))
    if initial.get("battery_v") in (None, "") and (battery := _battery_asked_for(request)):
        initial["battery_v"] = float(battery)
    if sent or (last is not None and last.capture_id == found.pk):
        # what a person said about this very file is no proposal
        return initial, offered_from, None
    proposal = setup_proposal(reading, asked_for, str(initial.get("fuel", "")), initial)
    if proposal is not None:
        initial, kept_some = with_proposal(initial, proposal, reading)
        has_scale = "scale" in initial
        offered_from = setup_source(last, found, has_scale=has_scale) if last and kept_some else ""
    return initial, offered_from, proposal


@require_POST
@requires(Action.CAPTURE)
def retry(request: MemberRequest, pk: int) -> HttpResponse:
    """Have a capture read again whose reading failed."""
    reading_retry(reading=capture_or_404(request, pk).reading)
    return redirect(back_address(request) or reverse("traces:capture", args=[pk]))


def capture_context(
    request: MemberRequest,
    pk: int,
    run_pk: int | None = None,
    *,
    back: str = "",
    engine_pk: int | None = None,
    fuel: str = "",
    battery_v: float | None = None,
    sent: ManualEditForm | StepForm | None = None,
) -> dict[str, Any]:
    """Return what `traces/_capture.html` needs; for pages that show a capture in their own frame.

    Parameters
    ----------
    back
        Address of the page around it, to which set-up and runs lead back; from the request's
        `next` where not given.
    engine_pk
        Engine to offer for a set-up; from the request's `engine` where not given.
    fuel
        Fuel to offer for a set-up; from the request's `fuel` where not given.
    battery_v
        Battery at rest to offer for a set-up, V; from the request's `battery_v` where not given.
    sent
        A change by hand that could not be made, with what was typed.

    Raises
    ------
    Http404
        If there is no such capture or run in the member's shop.
    """
    found = capture_or_404(request, pk)
    page = capture_page(found, run_or_404(request, pk, run_pk) if run_pk is not None else None)
    back = back or back_address(request)
    asked = request.GET.get("engine", "")
    engine = str(engine_pk) if engine_pk else asked if is_row_id(asked) else ""
    fuel = fuel or _fuel_asked_for(request)
    battery = f"{battery_v:g}" if battery_v is not None else _battery_asked_for(request)
    offered = (("next", back), ("engine", engine), ("fuel", fuel), ("battery_v", battery))
    carried = {k: v for k, v in offered if v}
    report = page.outcome.report if page.outcome else None
    pressure = page.run and pressure_page(request.member, page.run, request.GET.get("beside", ""))
    sent_from = sent_case(request.member, page.reading, report)
    waits_for_setup = request.GET.get("then") == THEN_SETUP and not page.runs and not sent_from
    of_run = {"run": str(run_pk)} if run_pk else {}
    return {
        "page": page,
        "notes": pinned_notes(pk),
        "note_form": PinForm(reading=page.reading),
        "hand": hand_card(request.member, page, sent),
        "undo": undo_waiting(request.member, page, sent),
        "here": _here(request),
        "next": back,
        "setup_url": _address("traces:setup", pk, carried),
        "correct_url": _address("traces:file", pk, {"next": back} if back else {}),
        "state_url": _address(
            "traces:state", pk, carried | of_run | ({"then": THEN_SETUP} if waits_for_setup else {})
        ),
        # a case that came with its sender's result shows that first
        "goes_on": waits_for_setup and page.can_be_set_up and request.member.may(Action.CAPTURE),
        "carried": f"?{urlencode(carried)}" if carried else "",
        "sent": sent_from,
        "sent_token": uuid4(),
        "code_version": settings.VERSION,
        "pressure": pressure,
        "nothing_beside": NOTHING_BESIDE,
        "carried_items": tuple(carried.items()),
        "recorded": _recorded(request, page) if page.can_be_set_up else None,
    }


def _recorded(request: HttpRequest, page: CapturePage) -> dict[str, Any]:
    """Return what `traces/_recorded.html` needs: the channels shown, and their addresses."""
    asked = channels_asked_for(request)
    shown = chosen_channels(page.reading, asked)
    # Without a choice the addresses stay plain.
    query = f"?{urlencode([('channel', i + 1) for i in shown])}" if asked else ""
    channels = [
        {"number": i + 1, "name": c["name"], "unit": c["unit"], "is_shown": i in shown}
        for i, c in enumerate(page.reading.channels)
    ]
    return {
        "asked": bool(asked),
        "curve_url": reverse("traces:curve", args=[page.capture.pk]) + query,
        "values_url": reverse("traces:values", args=[page.capture.pk]) + query,
        "channels": channels,
        "most": MOST_CHANNELS,
    }


def _here(request: HttpRequest) -> str:
    """Return the address of the page that the person is on, also where a part of it asks."""
    told = urlsplit(request.headers.get("HX-Current-URL", "")).path
    return request.POST.get("here") or told or request.path


def back_address(request: HttpRequest) -> str:
    """Return the address of this server that the person came from, or ""."""
    asked = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(asked, allowed_hosts=None) and asked.startswith("/")
    return asked if safe else ""


def _address(name: str, pk: int, query: dict[str, str]) -> str:
    address = reverse(name, args=[pk])
    return f"{address}?{urlencode(query)}" if query else address


def _engine_asked_for(request: MemberRequest) -> Engine | None:
    asked = request.GET.get("engine", "")
    if not is_row_id(asked):
        return None
    return Engine.objects.seen_by(request.member).filter(pk=int(asked)).first()


def _fuel_asked_for(request: HttpRequest) -> str:
    asked = request.GET.get("fuel", "")
    return asked if asked in get_args(Fuel) else ""


def _battery_asked_for(request: HttpRequest) -> str:
    """Return the battery voltage that another page offers, as a number; "" for none or nonsense."""
    asked = request.GET.get("battery_v", "")
    try:
        return f"{float(asked):g}" if 0 < float(asked) <= _MOST_BATTERY_V else ""
    except ValueError:
        return ""
