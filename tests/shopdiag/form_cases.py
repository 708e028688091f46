"""Every form that a page sends, as somebody fills it in."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.utils import timezone

from jobs.core.measured_tests import ALL_TYPED
from jobs.models import VisitCapture, WorkOrder
from jobs.services.judgements import judgement_sign
from jobs.services.questions import question_ask
from jobs.services.work import work_order_withdraw
from shopdiag.people.models import ApiToken
from tests.conftest import PASSWORD
from tests.shopdiag.furnished import Furnished, picture
from tests.shopdiag.page_forms import PageForm
from tests.traces.conftest import csv_bytes, shifted, upload_of
from tests.traces.practice.kept_exercise import ANSWER
from traces.models import EventAngle, FileShape, KnownGood, Reading, Run, Work
from traces.practice.models import Exercise

Typed = dict[str, Any]

# What takes a form and has no record of ours to double.
OTHERS = {
    "home": "only points on",
    "healthz": "asked by whoever watches the service",
    "offline": "shows what the browser keeps",
    "service-worker": "a script",
    "people:sign-in": "asks who is there",
    "people:sign-out": "ends a session",
    "people:join": "a link is used once; tested with invitations",
    "people:first-run": "before there is anybody",
    "people:shops": "only chooses where to work",
    "people:language": "only chooses in which language one reads",
    "people:email": "only says where one gets e-mail",
    "jobs:question-mail-again": "there only where an e-mail failed; tested with them",
    "jobs:capture-same": "carries a token; tested with uploads of several files",
    "jobs:capture-same-all": "carries a token; tested with uploads of several files",
    "traces:as-sender": "carries a token; tested with the cases",
}
NEW_PASSWORD = "quiet-lathe-1911"


@dataclass(frozen=True)
class Case:
    """One form, as somebody fills it in.

    Parameters
    ----------
    page
        Name of the page that it stands on.
    typed
        What is typed over the values on the page.
    then
        What is typed into the same form of a fresh page afterwards; None where the form is a
        press that says what shall be so.
    picks
        Which of several forms to the same address it is.
    before
        What has to be so first.
    files
        Makes what is sent as files, anew each time.
    between
        What the worker does meanwhile.
    unasked
        Fields that are not shown with what is typed, and say nothing then.
    """

    page: str
    typed: Typed = field(default_factory=dict)
    then: Typed | None = None
    picks: Callable[[PageForm], bool] = lambda _: True
    before: Callable[[Furnished], object] | None = None
    files: Callable[[Typed], Typed] = lambda typed: typed
    between: Callable[[], object] = lambda: None
    unasked: tuple[str, ...] = ()


def _is_back(form: PageForm) -> bool:
    return "reason" in form.names


def _corrected_file(shop: Furnished) -> None:
    reading = shop.run.capture.reading
    Reading.objects.filter(pk=reading.pk).update(correction={"rate_hz": 2000.0})


def _earlier_reading(shop: Furnished) -> None:
    reading = shop.run.capture.reading
    reading.pk = None
    reading.samples_file = "samples/other.npy"
    reading.state = Work.State.DONE
    reading.save()


def _withdrawn(shop: Furnished) -> None:
    if shop.world.order.state in WorkOrder.OPEN_STATES:
        work_order_withdraw(order=shop.world.order, member=shop.cast.owner, reason="Wrong car.")
    judgement_sign(
        visit=shop.world.visit,
        member=shop.cast.owner,
        kind="without",
        mechanical="yes",
        cylinders=[2],
        reason="By ear.",
    )


def _not_kept(shop: Furnished) -> None:
    KnownGood.objects.all().delete()


def _all_read() -> None:
    Reading.objects.update(state=Work.State.DONE)


def _answered(shop: Furnished) -> None:
    WorkOrder.objects.filter(pk=shop.world.order.pk).update(
        state="accepted", accepted_by=shop.cast.owner
    )


def _question_asked(shop: Furnished) -> None:
    if not shop.world.order.questions.exists():
        question_ask(order=shop.world.order, member=shop.cast.mechanic, text="Which gasket?")


def _free(shop: Furnished) -> None:
    WorkOrder.objects.filter(pk=shop.world.order.pk).update(
        state="open", accepted_by=None, accepted_at=None, assigned_to=None
    )


def _aside(shop: Furnished) -> None:
    VisitCapture.objects.filter(capture=shop.run.capture).update(aside_why="Other gear.")


def _made_after_the_repair(shop: Furnished) -> None:
    VisitCapture.objects.filter(capture=shop.run.capture).update(purpose="verification")


def _shifted(shop: Furnished) -> None:
    shifted(shop.run, shop.cast.owner)


def _unreadable(shop: Furnished) -> None:
    Reading.objects.filter(capture=shop.run.capture).update(state="failed")


def _angle(shop: Furnished) -> None:
    EventAngle.objects.create(
        pk=shop.known_good.pk,
        shop=shop.cast.shop,
        engine=shop.engine,
        event="cam",
        cylinder=1,
        angle_deg=40.0,
        known_from="Manual",
        created_by=shop.cast.owner,
    )


def _remembered(shop: Furnished) -> None:
    reading = shop.run.capture.reading
    FileShape.objects.create(
        shop=shop.cast.shop,
        shape=reading.shape,
        correction={"rate_hz": 2000.0},
        learned_from=shop.run.capture,
        created_by=shop.cast.owner,
    )


def _practised(shop: Furnished) -> None:
    Exercise.objects.filter(pk=shop.exercise.pk).update(
        answered_at=timezone.now(), points=0, most_points=3, answer=ANSWER
    )


def _measured(shop: Furnished) -> None:
    run = Run.objects.get(pk=shop.run.pk)
    assert run.result
    run.result["parts"]["event_angle"] = {
        "event": "cam",
        "cylinder": 1,
        "angle_deg": 40.0,
        "spread_deg": 1.0,
        "count": 12,
        "other_angles_deg": [],
        "channel": "cam",
    }
    run.save(update_fields=["result"])


def _own_token(shop: Furnished) -> None:
    ApiToken.objects.filter(pk=shop.token.pk).update(member=shop.cast.owner)


def _picture(typed: Typed) -> Typed:
    return typed | {"image": picture()}


def _recording(typed: Typed) -> Typed:
    seed = int(typed.pop("seed"))
    return typed | {"recordings": upload_of(csv_bytes(seed=seed), f"crank-{seed}.csv")}


COUNTS = {"counts": "1: 0, 2: 143, 3: 2, 4: 0", "period": "ten cycles"}
OTHER_COUNTS = {"counts": "1: 5, 2: 90, 3: 2, 4: 0", "period": "ten cycles"}
FRAME = {"code": "P0301", "text": "Coolant 82 C"}
FINDING = {"cylinder": "2", "test": "gauge_dry", "outcome": "good", "pressure": "1190"}
READINGS = {"cylinder_2_pressure": "1190", "cylinder_2_outcome": "good"}
SWAP = {"part": "coil", "from_cylinder": "1", "to_cylinder": "2", "followed": "yes"}
VEHICLE = {"vehicle-make": "Orchard", "vehicle-model": "Estate", "vehicle-drive": "starter"}
INTAKE = VEHICLE | {"complaint-words": "Shakes.", "customer-name": "New Name"}
ENGINE = {
    "name": "Shop four",
    "layout": "I4",
    "firing_order": "1-3-4-2",
    "numbering": "front",
    "fuel": "petrol",
    "source": "Handbook, page 4",
}
OWN = {"kind": "overruled", "mechanical": "yes", "chosen": ["2"], "reason": "Gauge."}

SETUP = {"scale": "100", "current_channel": "clamp", "sync_channel": "", "sync_cylinder": ""}
PRESS = Case("")
"""A button that says what shall be so, and sends nothing else."""

CASES: dict[str, Case] = {
    "jobs:new": Case("jobs:new", INTAKE, INTAKE | {"customer-name": "Other Name"}),
    "jobs:move": Case("jobs:visit", {"reason": "Looked again."}, picks=_is_back, before=_withdrawn),
    "jobs:visit-edit": Case("jobs:visit-edit", {"odometer": "120500"}, {"odometer": "120600"}),
    "jobs:complaint-edit": Case("jobs:complaint-edit", {"words": "Shakes."}, {"words": "Hums."}),
    "jobs:customer-edit": Case("jobs:customer-edit", {"name": "A. Name"}, {"name": "B. Name"}),
    "jobs:vehicle-edit": Case("jobs:vehicle-edit", {"plate": "AB 1"}, {"plate": "AB 2"}),
    "jobs:triage-edit": Case("jobs:triage-edit", {"remarks": "Hums."}, {"remarks": "Whines."}),
    "jobs:codes-add": Case("jobs:codes-add", {"text": "P0420"}, {"text": "P0430"}),
    "jobs:code-remove": PRESS,
    "jobs:freeze-frame-add": Case("jobs:freeze-frame-add", FRAME, FRAME | {"text": "Load 30 %"}),
    "jobs:misfires-set": Case("jobs:misfires-set", COUNTS, OTHER_COUNTS),
    "jobs:note-add": Case("jobs:note-add", {"text": "Cold start."}, {"text": "Warm start."}),
    "jobs:used-add": Case(
        "jobs:used-add",
        {"minutes": "20", "what": "Plugs out."},
        {"minutes": "30", "what": "Plugs out."},
        picks=lambda f: "minutes" in f.names,
    ),
    "jobs:numbering": Case(
        "jobs:numbering",
        {"basis": "casting", "note": "1 at the belt"},
        {"basis": "data", "note": "page 3"},
    ),
    "jobs:photo-add": Case(
        "jobs:photo-add", {"caption": "Plug 2"}, {"caption": "Plug 3"}, files=_picture
    ),
    "jobs:photo-remove": Case("jobs:photo-remove", {"reason": "Wrong car."}),
    "jobs:capture-upload": Case(
        "jobs:visit",
        {"seed": "31", "keep_duplicate": "yes"},
        {"seed": "32", "keep_duplicate": "yes"},
        files=_recording,
    ),
    "jobs:capture-aside": Case("jobs:capture", {"why": "Other gear."}),
    "jobs:capture-purpose": Case("jobs:capture", {}, before=_made_after_the_repair),
    "jobs:decide": Case(
        "jobs:decide", OWN, OWN | {"chosen": ["3"]}, picks=lambda f: f.sent["kind"] != ["accepted"]
    ),
    "jobs:consent-add": Case(
        "jobs:consent-add",
        {"agreed": "yes", "said_by": "The owner", "how": "phone", "amount": "250"},
        {"agreed": "no", "said_by": "The owner", "how": "phone"},
    ),
    "jobs:work-order-new": Case("jobs:work-order-new", {"scope": "Plugs out."}, before=_withdrawn),
    "jobs:work-order-accept": Case("", before=_free),
    "jobs:work-order-edit": Case(
        "jobs:work-order-edit", {"scope": "Plugs out."}, {"scope": "Head off."}
    ),
    "jobs:work-order-withdraw": Case("jobs:work-order", {"reason": "Wrong car."}),
    "jobs:finding-add": Case(
        "jobs:finding-add",
        FINDING,
        FINDING | {"pressure": "1180"},
        unasked=(
            *("oil_ml", "swept_ml", "supply", "orifice_mm", "idle", "snap", "leak_percent"),
            *(figure.name for figure in ALL_TYPED),
        ),
    ),
    "jobs:readings-add": Case(
        "jobs:work-order",
        READINGS,
        READINGS | {"cylinder_2_pressure": "1180"},
        picks=lambda f: f.sent["test"] == ["gauge_dry"],
    ),
    "jobs:question-ask": Case(
        "jobs:work-order",
        {"text": "Which gasket?"},
        {"text": "Which side?"},
        picks=lambda f: f.sent["is_stop"] == ["False"],
    ),
    "jobs:question-answer": Case(
        "jobs:work-order", {"answer": "The head's."}, before=_question_asked
    ),
    "jobs:swap-add": Case("jobs:swap-add", SWAP, SWAP | {"to_cylinder": "3"}),
    "jobs:work-order-limits": Case(
        "jobs:work-order-limits",
        {"rule": "own", "source": "Manual, page 9", "least": "1000"},
        {"rule": "own", "source": "Manual, page 9", "least": "1100"},
    ),
    "jobs:figure-limits": Case(
        "jobs:figure-limits",
        {"intake_lift_mm_least": "8", "source": "Manual, page 9"},
        {"intake_lift_mm_least": "9", "source": "Manual, page 9"},
    ),
    "jobs:engine-limits": Case(
        "jobs:engine-limits",
        {"cam_off_deg_most": "8", "source": "Manual, page 9"},
        {"cam_off_deg_most": "9", "source": "Manual, page 9"},
    ),
    "jobs:shop-limits": Case(
        "jobs:shop-limits",
        {"cam_off_deg_most": "8", "source": "Our own rule"},
        {"cam_off_deg_most": "9", "source": "Our own rule"},
    ),
    "jobs:work-order-complete": Case(
        "jobs:work-order",
        {"summary": "Valve burnt.", "left_out": "Not needed."},
        before=_answered,
    ),
    "jobs:work-order-photo": Case(
        "jobs:work-order", {"caption": "Plug 2"}, {"caption": "Plug 3"}, files=_picture
    ),
    "jobs:outcome-edit": Case("jobs:outcome-edit", {"cause": "Valve."}, {"cause": "Gasket."}),
    "practice:home": Case("practice:home", before=_practised),
    "practice:begin": Case("", before=_practised),
    "practice:exercise": Case("practice:exercise", {"call": "even", "numbers_open": "on"}),
    "practice:team": Case("practice:team", {"level": "3"}, {"level": "4"}),
    "practice:withdraw": PRESS,
    "people:invitations": Case(
        "people:invitations",
        {"label": "Nora", "role": "mechanic"},
        {"label": "Nils", "role": "writer"},
    ),
    "people:invitation-revoke": PRESS,
    "traces:clamps": Case(
        "traces:clamps",
        {"name": "Red clamp", "mv_per_a": "100"},
        {"name": "Red clamp", "mv_per_a": "10"},
    ),
    "traces:clamp-retire": PRESS,
    "traces:setup": Case("traces:setup", SETUP, SETUP | {"scale": "10"}),
    "traces:known-good-retire": PRESS,
    "traces:event-angle-retire": Case("", before=_angle),
    "traces:retry": Case("", before=_unreadable),
    "traces:note-pin": Case(
        "traces:capture",
        {"at_s": "1.0", "text": "Knock."},
        {"at_s": "2.0", "text": "Hiss."},
        picks=lambda f: "text" in f.names,
    ),
    "traces:note-strike": PRESS,
    "traces:file": Case("traces:file", {"rate_hz": "2000"}, {"rate_hz": "2500"}, between=_all_read),
    "traces:file-as-it-is": Case("", before=_corrected_file),
    "traces:file-take-again": Case("traces:capture", before=_earlier_reading),
    "traces:file-forget": Case("", before=_remembered),
    "traces:event-angle-learn": Case("", before=_measured),
    "traces:keep": Case(
        "traces:keep",
        {"note": "Gauge 1200 all.", "although_uneven": "on"},
        before=_not_kept,
    ),
    "traces:by-hand": Case("traces:run", picks=lambda f: f.sent.get("do") == ["on"]),
    "engines:new": Case("engines:new", ENGINE, ENGINE | {"name": "Other four"}),
    "engines:edit": Case("engines:edit", {"source": "Handbook"}, {"source": "Plate"}),
    "engines:retire": PRESS,
    "engines:access": Case(
        "engines:detail",
        {"minutes": "20", "note": "Cover off"},
        {"minutes": "30", "note": "Cover off"},
    ),
    "people:password": Case(
        "people:password",
        {"old_password": PASSWORD, "new_password1": NEW_PASSWORD, "new_password2": NEW_PASSWORD},
    ),
    "people:member-add": Case(
        "people:member-add",
        {
            "name": "Ned New",
            "username": "ned",
            "role": "mechanic",
            "password": NEW_PASSWORD,
            "password_again": NEW_PASSWORD,
        },
    ),
    "people:member": Case("people:member", {"role": "writer"}, {"role": "diagnostician"}),
    "people:member-password": Case(
        "people:member-password", {"password": NEW_PASSWORD, "password_again": NEW_PASSWORD}
    ),
    "people:shop": Case("people:shop", {"phone": "1"}, {"phone": "2"}),
    "people:shop-token-revoke": PRESS,
    "people:tokens": Case("people:tokens", {"label": "laptop"}, {"label": "tablet"}),
    "people:token-revoke": Case("", before=_own_token),
}
