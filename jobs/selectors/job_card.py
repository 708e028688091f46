"""Everything that the job card shows of one visit, read in a fixed number of queries."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Max
from django.utils.translation import gettext as _

from jobs.core.code_meaning import CodeMeaning, code_meaning
from jobs.core.codes import CodeReading, FoundCode
from jobs.core.complaint import HAPPENS, WARNING_LIGHTS, labels_of
from jobs.core.misfires import counts_text
from jobs.core.stages import LABELS, Stage, moves_from, refusal
from jobs.core.vin import vin_check
from jobs.models import (
    CodePaste,
    Complaint,
    FreezeFrame,
    MisfireCounts,
    Note,
    Photo,
    TimelineEvent,
    Triage,
    TroubleCode,
    Visit,
)
from jobs.selectors.comebacks import ComebackLinks, comeback_links
from jobs.selectors.photos import photos_listed
from jobs.selectors.triage import triage_rows
from jobs.selectors.visit_facts import visit_facts
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member

# Who takes a visit to a stage; any one of the actions will do.
_MOVERS: dict[Stage, frozenset[Action]] = {
    Stage.INTAKE: frozenset({Action.TAKE_IN}),
    Stage.TRIAGE: frozenset({Action.TAKE_IN, Action.TRIAGE}),
    Stage.TEST: frozenset({Action.TRIAGE}),
    Stage.DECIDE: frozenset({Action.TRIAGE}),
    Stage.WORK: frozenset({Action.ORDER_WORK}),
    Stage.VERIFY: frozenset({Action.VERIFY}),
    Stage.HAND_BACK: frozenset({Action.VERIFY, Action.HAND_BACK}),
    Stage.CLOSED: frozenset({Action.HAND_BACK}),
}


@dataclass(frozen=True, slots=True)
class Move:
    """A stage that the visit may go to, or why not yet."""

    stage: Stage
    label: str
    is_back: bool
    why_not: str | None


@dataclass(frozen=True, slots=True)
class CodeLine:
    """One code with what it means."""

    code: TroubleCode
    meaning: CodeMeaning


@dataclass(frozen=True, slots=True)
class CountsLine:
    """One reading of misfire counts, with the cylinders that have the most."""

    reading: MisfireCounts
    rows: tuple[tuple[str, int, bool], ...]
    before: str = ""
    """What it corrects, the way it was typed; empty for none."""


@dataclass(frozen=True, slots=True)
class VisitCard:
    """The job card: what intake and triage wrote, and the timeline."""

    visit: Visit
    complaint: Complaint | None
    happens: tuple[str, ...]
    warning_lights: tuple[str, ...]
    triage: Triage | None
    triage_rows: tuple[tuple[str, str], ...]
    """What was answered beyond sound and battery: what it is, and what was said."""
    comeback: ComebackLinks
    codes: tuple[CodeLine, ...]
    pastes: tuple[CodePaste, ...]
    freeze_frames: tuple[FreezeFrame, ...]
    misfires: tuple[CountsLine, ...]
    notes: tuple[Note, ...]
    photos: tuple[Photo, ...]
    events: tuple[TimelineEvent, ...]
    moves: tuple[Move, ...]
    warnings: tuple[str, ...]


def may_move_to(member: Member, to: Stage) -> bool:
    """Return whether the member's role takes visits to this stage."""
    return any(member.may(action) for action in _MOVERS[to])


def moves_offered(member: Member, visit: Visit) -> tuple[Move, ...]:
    """Return the moves that the member's role makes from here, each with why not yet."""
    stage = visit.stage_enum
    stages = list(Stage)
    wanted = [to for to in moves_from(stage) if may_move_to(member, to)]
    facts = visit_facts(visit) if wanted else None
    return tuple(
        Move(
            stage=to,
            label=_(LABELS[to]),
            is_back=stages.index(to) < stages.index(stage),
            why_not=refusal(stage, to, facts) if facts else None,
        )
        for to in wanted
    )


def odometer_warning(visit: Visit) -> str | None:
    """Return the sentence on an odometer that ran backwards since an earlier visit."""
    if visit.odometer is None:
        return None
    highest = (
        Visit.objects.filter(
            shop_id=visit.shop_id, vehicle_id=visit.vehicle_id, opened_at__lt=visit.opened_at
        )
        .exclude(pk=visit.pk)
        .aggregate(most=Max("odometer"))["most"]
    )
    if highest is None or highest <= visit.odometer:
        return None
    unit = visit.shop.distance_unit
    return _(
        "The odometer reads %(odometer)s %(unit)s but an earlier visit noted "
        "%(highest)s %(unit)s; read it again."
    ) % {"odometer": visit.odometer, "unit": unit, "highest": highest}


def visit_warnings(visit: Visit) -> tuple[str, ...]:
    """Return what is odd about a visit's vehicle and odometer; nothing is refused for it."""
    odometer = odometer_warning(visit)
    return (*vin_check(visit.vehicle.vin).warnings, *((odometer,) if odometer else ()))


def visit_card(member: Member, visit: Visit) -> VisitCard:
    """Return the job card of `visit`, which `member` may see."""
    complaint = Complaint.objects.filter(visit=visit).first()
    triage = Triage.objects.filter(visit=visit).first()
    return VisitCard(
        visit=visit,
        complaint=complaint,
        happens=tuple(labels_of(complaint.happens, HAPPENS)) if complaint else (),
        warning_lights=(
            tuple(labels_of(complaint.warning_lights, WARNING_LIGHTS)) if complaint else ()
        ),
        triage=triage,
        triage_rows=triage_rows(triage, visit.shop.distance_unit),
        comeback=comeback_links(visit),
        codes=code_lines(visit),
        pastes=tuple(CodePaste.objects.filter(visit=visit).select_related("by__user")),
        freeze_frames=tuple(
            FreezeFrame.objects.filter(visit=visit, replaced_by=None).select_related(
                "by__user", "replaces__by__user"
            )
        ),
        misfires=tuple(
            CountsLine(
                reading,
                _count_rows(reading.counts),
                counts_text(reading.replaces.counts) if reading.replaces else "",
            )
            for reading in MisfireCounts.objects.filter(
                visit=visit, replaced_by=None
            ).select_related("by__user", "replaces__by__user")
        ),
        notes=tuple(Note.objects.filter(visit=visit).select_related("by__user")),
        photos=photos_listed(visit.photos.standing().select_related("by__user", "visit"), member),
        events=tuple(
            TimelineEvent.objects.filter(visit=visit).select_related("by__user").order_by("-pk")
        ),
        moves=moves_offered(member, visit),
        warnings=visit_warnings(visit),
    )


def code_lines(visit: Visit) -> tuple[CodeLine, ...]:
    """Return a visit's codes with their meanings."""
    codes = TroubleCode.objects.filter(visit=visit).select_related("by__user")
    return tuple(CodeLine(code, code_meaning(code.code)) for code in codes)


@dataclass(frozen=True, slots=True)
class ReadLine:
    """One code of a paste, and whether it stands on the card."""

    found: FoundCode
    meaning: CodeMeaning
    on_card: bool


def code_lines_of_paste(visit: Visit, reading: CodeReading) -> tuple[ReadLine, ...]:
    """Return the codes of a paste with what they mean and whether the card has them."""
    on_card = set(TroubleCode.objects.filter(visit=visit).values_list("code", flat=True))
    return tuple(
        ReadLine(found, code_meaning(found.code), found.code in on_card) for found in reading.codes
    )


def _count_rows(counts: dict[str, Any]) -> tuple[tuple[str, int, bool], ...]:
    """Return (cylinder, count, has the most) in the cylinders' order."""
    most = max(counts.values(), default=0)
    return tuple(
        (cylinder, count, count == most and most > 0)
        for cylinder, count in sorted(counts.items(), key=lambda pair: int(pair[0]))
    )
