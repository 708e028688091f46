"""The first look: cranking by ear, codes, freeze frames, misfire counts."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from jobs.core.codes import CodeReading, CodeStatus, FoundCode, code_exact, codes_read
from jobs.core.freeze_frame import MAX_ROWS, frame_read
from jobs.core.misfires import CountsError, check_cylinders, doubts_about_counts
from jobs.core.stages import Stage
from jobs.models import CodePaste, FreezeFrame, MisfireCounts, Triage, TroubleCode, Visit
from jobs.selectors.captures import engine_sequence
from jobs.services.changes import record_change
from jobs.services.evidence_words import checks_words, codes_words, counts_words, frame_words
from jobs.services.numbering import check_mounting
from jobs.services.timeline import event_add
from jobs.services.visits import check_open, check_stays_open, visit_advance
from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.models import Member
from shopdiag.people.typed_text import check_length

_MOST_IN_ROW = 200

TRIAGE_FIELDS = (
    "verified",
    "cranks",
    "battery_v",
    "oil_level",
    "oil_loss",
    "fuel_in_oil",
    "coolant_level",
    "coolant_loss",
    "plugs_age",
    "timing_work",
    "timing_work_odometer",
    "timing_work_on",
    "fuel_work",
    "fuel_work_odometer",
    "fuel_work_on",
    "direction",
    "bank_a_side",
    "remarks",
)
MAX_TEXT = 20_000


def triage_of(*, visit: Visit) -> Triage:
    """Return the visit's triage, or a new one that is not saved yet."""
    return Triage.objects.filter(visit=visit).first() or Triage(visit=visit)


@transaction.atomic
def triage_change(*, triage: Triage, expected_version: int, member: Member) -> bool:
    """Save the triage; a visit still at intake goes on to triage.

    Raises
    ------
    SavedMeanwhileError
        If somebody else saved it after `expected_version`.
    ValidationError
        If the job is closed, or how the engine sits contradicts itself.
    """
    check_stays_open(triage.visit_id)
    check_mounting(triage.direction, triage.bank_a_side)
    row, _ = Triage.objects.get_or_create(visit_id=triage.visit_id)
    triage.pk = row.pk
    changed = record_change(
        row=triage,
        expected_version=expected_version,
        member=member,
        fields=TRIAGE_FIELDS,
        visits=[triage.visit],
        kind="triage",
        what=lambda: checks_words(triage),
    )
    if changed:
        visit_advance(visit=triage.visit, to=Stage.TRIAGE, member=member)
    return changed


@dataclass(frozen=True, slots=True)
class CodesAdded:
    """What one paste brought: the reading, and how much of it is new on the card."""

    paste: CodePaste
    reading: CodeReading
    added: tuple[TroubleCode, ...]


@transaction.atomic
def codes_add(
    *, visit: Visit, text: str, member: Member, form_token: UUID | None = None
) -> CodesAdded:
    """Read codes out of pasted text and keep both; a code stands once in each status.

    The same text pasted again adds nothing, and the same form sent again brings no code back
    that was taken off the card meanwhile.

    Raises
    ------
    ValidationError
        If the text is empty or too long.
    """
    if not text.strip():
        raise ValidationError(gettext("Paste or type the codes first."))
    if len(text) > MAX_TEXT:
        raise ValidationError(
            gettext("This is more than %(max_text)s characters; paste it in parts.")
            % {"max_text": MAX_TEXT}
        )
    visit = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    check_open(visit)
    reading = codes_read(text)
    sent_before = form_token and CodePaste.objects.filter(visit=visit, form_token=form_token)
    if sent_before and (paste := sent_before.first()):
        return CodesAdded(paste=paste, reading=codes_read(paste.text), added=())
    same = CodePaste.objects.filter(visit=visit, text=text).first()
    paste = same or CodePaste.objects.create(
        visit=visit,
        text=text,
        not_codes=[
            {
                "text": odd.text,
                "line": odd.line[:300],
                "line_no": odd.line_no,
                "why": odd.why,
                "suggestion": odd.suggestion,
            }
            for odd in reading.not_codes
        ],
        form_token=form_token,
        by=member,
    )
    added = _codes_store(visit, paste, reading.codes, member)
    if added or not same:
        event_add(
            visit=visit,
            by=member,
            kind="codes",
            words=lambda: codes_words(added, len(reading.not_codes)),
            data={"paste": paste.pk, "codes": [[c.code, c.status] for c in added]},
        )
    if added:
        visit_advance(visit=visit, to=Stage.TRIAGE, member=member)
    return CodesAdded(paste=paste, reading=reading, added=tuple(added))


def _codes_store(
    visit: Visit, paste: CodePaste, found: tuple[FoundCode, ...], member: Member
) -> list[TroubleCode]:
    known: dict[str, set[str]] = {}
    for code, status in TroubleCode.objects.filter(visit=visit).values_list("code", "status"):
        known.setdefault(code, set()).add(status)
    added: list[TroubleCode] = []
    for one in found:
        statuses = known.setdefault(one.code, set())
        if one.status in statuses or (one.status is CodeStatus.UNKNOWN and statuses):
            continue
        if CodeStatus.UNKNOWN in statuses:
            # Now its status is known: the same line says more, it does not come twice.
            TroubleCode.objects.filter(visit=visit, code=one.code, status="").delete()
            statuses.discard(CodeStatus.UNKNOWN)
        statuses.add(one.status)
        added.append(
            TroubleCode(
                visit=visit,
                paste=paste,
                code=one.code,
                status=one.status.value,
                cylinder=one.cylinder,
                line=one.line[:300],
                by=member,
            )
        )
    return TroubleCode.objects.bulk_create(added)


@transaction.atomic
def code_remove(*, code: TroubleCode, member: Member) -> None:
    """Take a wrongly entered code off the card; the pasted text stays.

    Raises
    ------
    ValidationError
        If the job is closed.
    """
    check_stays_open(code.visit_id)
    event_add(
        visit=code.visit,
        by=member,
        kind="codes",
        words=lambda: (
            gettext("took %(code)s (%(status)s) off the card")
            % {"code": code.code, "status": code.get_status_display().lower()}
        ),
        data={"removed": [code.code, code.status], "line": code.line},
    )
    code.delete()


@transaction.atomic
def freeze_frame_add(
    *,
    visit: Visit,
    text: str,
    member: Member,
    code: str = "",
    replaces: FreezeFrame | None = None,
    form_token: UUID | None = None,
) -> FreezeFrame:
    """Keep a pasted freeze frame, a row for each line; `code` wins over one in the text.

    The same form token gives the same freeze frame, so that a form sent twice adds once; the same
    values without a token add nothing either.

    Parameters
    ----------
    replaces
        The freeze frame that this one corrects; it stays on record.

    Raises
    ------
    ValidationError
        If there is no line to keep, there are too many, `code` is no code, what it replaces was
        corrected already, or the job is closed.
    """
    if code and not code_exact(code):
        raise ValidationError({"code": gettext("This is no trouble code; type one like P0301.")})
    frame = frame_read(text)
    if not frame.rows:
        raise ValidationError({"text": gettext("Paste the values first, one on each line.")})
    if len(frame.rows) > MAX_ROWS:
        raise ValidationError(
            {
                "text": gettext("Paste at most %(max_rows)s lines at a time.")
                % {"max_rows": MAX_ROWS}
            }
        )
    for row in frame.rows:
        check_length("text", max(row.name, row.value, row.unit, key=len), _MOST_IN_ROW)
    rows: list[dict[str, Any]] = [
        {"name": row.name, "value": row.value, "unit": row.unit} for row in frame.rows
    ]
    known_code = code_exact(code) or frame.code
    visit = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    if form_token:
        sent_before = FreezeFrame.objects.filter(visit=visit, form_token=form_token).first()
        if sent_before:
            return sent_before
    check_open(visit)
    for same in FreezeFrame.objects.filter(visit=visit, code=known_code, replaced_by=None):
        if same.rows == rows:
            return same
    _check_replaces(visit, replaces)
    added = FreezeFrame.objects.create(
        visit=visit,
        code=known_code,
        rows=rows,
        by=member,
        replaces=replaces,
        form_token=form_token,
    )
    event_add(
        visit=visit,
        by=member,
        kind="freeze-frame",
        words=lambda: frame_words(known_code, len(rows), is_corrected=replaces is not None),
        data={"freeze_frame": added.pk, "replaces": replaces.pk if replaces else None},
    )
    return added


@transaction.atomic
def misfires_set(
    *,
    visit: Visit,
    counts: Mapping[int, int],
    member: Member,
    period: str = "",
    replaces: MisfireCounts | None = None,
    form_token: UUID | None = None,
    confirmed: Confirmed = False,
) -> MisfireCounts:
    """Keep counts by cylinder; each reading stays beside the earlier ones.

    The same form token gives the same reading, so that a form sent twice adds once; with
    another one the same counts are asked back. Without one the last reading told again adds
    nothing.

    Parameters
    ----------
    replaces
        The reading that this one corrects; it stays on record.
    confirmed
        Whether a person was asked about an odd count and says that it is right.

    Raises
    ------
    ValidationError
        If there are no counts, the engine does not have a cylinder that was counted, an odd count
        is not confirmed, what it replaces was corrected already, or the job is closed.
    """
    if not counts:
        raise ValidationError({"counts": gettext("Type the counts as “1: 0, 2: 143”.")})
    try:
        check_cylinders(counts, engine_sequence(visit, None))
    except CountsError as error:
        raise ValidationError({"counts": str(error)}) from error
    stored = {str(cylinder): count for cylinder, count in sorted(counts.items())}
    visit = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    if form_token:
        sent_before = MisfireCounts.objects.filter(visit=visit, form_token=form_token).first()
        if sent_before:
            return sent_before
    check_open(visit)
    last = MisfireCounts.objects.filter(visit=visit, replaced_by=None).last()
    if not form_token and last and last.counts == stored and last.period == period:
        return last
    _check_replaces(visit, replaces)
    by_member = MisfireCounts.objects.filter(visit=visit, by=member, replaced_by=None)
    said = {"counts": stored, "period": period}
    ask_back(
        confirmed,
        doubts_about_counts(counts.values()),
        already_there(by_member, **said) if form_token else (),
        about=said,
    )
    added = MisfireCounts.objects.create(
        visit=visit,
        counts=stored,
        period=period,
        by=member,
        replaces=replaces,
        form_token=form_token,
    )
    event_add(
        visit=visit,
        by=member,
        kind="misfires",
        words=lambda: counts_words(counts, is_corrected=replaces is not None),
        data={
            "misfires": added.pk,
            "counts": stored,
            "replaces": replaces.pk if replaces else None,
        },
    )
    return added


def _check_replaces(visit: Visit, replaces: FreezeFrame | MisfireCounts | None) -> None:
    if replaces is None:
        return
    if replaces.visit_id != visit.pk:
        raise ValidationError(gettext("That one belongs to another job; correct one of this job."))
    if type(replaces)._default_manager.filter(replaces=replaces.pk).exists():  # noqa: SLF001
        raise ValidationError(
            gettext("That one was corrected already; open the job again and correct the newer one.")
        )
