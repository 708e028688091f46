"""Captures come to a visit, and verdicts are signed; neither is ever changed afterwards."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction

from jobs.core.accepting import why_not_accepted, why_overruled
from jobs.core.groups import FaultGroup
from jobs.core.request import named
from jobs.core.stages import Stage
from jobs.models import Judgement, Visit, VisitCapture, WorkOrder
from jobs.selectors.evidence import engine_sequence
from jobs.selectors.together import CapturesTogether, captures_together, together_json
from jobs.services.timeline import event_add
from jobs.services.visits import check_open, check_stays_open, visit_advance
from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.models import Member
from traces.core.report import Report, weaker_bank
from traces.models import Run, Work
from traces.services import CaptureRefusedError, capture_add, capture_digest, stored_drop
from traces.services.uploads import upload_discard
from traces.uploads.files import WholeUpload
from traces.uploads.limits import IncomingFile

OVERRULES = "overrules"
"""Code of the refusal of an answer that overrules the verdict it would accept."""


@dataclass(frozen=True, slots=True)
class UploadOutcome:
    """What became of one file.

    Parameters
    ----------
    name
        The file's name as it came.
    added
        The capture, now with the visit; None where the file was not taken in.
    already
        The visit's own capture with the same content, when that is why it was not.
    elsewhere
        Another visit's capture with the same content, when that is why it was not.
    sentence
        Why it was not taken in and what to do; empty when it was.
    """

    name: str
    added: VisitCapture | None = None
    already: VisitCapture | None = None
    elsewhere: VisitCapture | None = None
    sentence: str = ""


def visit_captures_add(
    *,
    visit: Visit,
    member: Member,
    uploads: Iterable[IncomingFile],
    purpose: str = VisitCapture.Purpose.DIAGNOSIS,
    label: str = "",
    keep_duplicate: bool = False,
    batch: UUID | None = None,
) -> list[UploadOutcome]:
    """Take files in as captures of a visit; a bad one does not stop the others.

    Parameters
    ----------
    purpose
        For the diagnosis, or to prove the repair.
    keep_duplicate
        Take a file in again although another visit of the shop has the same content.
    batch
        Ties these files to others that were sent with the same form.

    Raises
    ------
    ValidationError
        If the visit is closed.
    """
    check_open(visit)
    outcomes = []
    for upload in uploads:
        outcome = _capture_add(
            visit=visit,
            member=member,
            upload=upload,
            purpose=purpose,
            label=label,
            keep_duplicate=keep_duplicate,
            batch=batch,
        )
        _let_go(upload, outcome)
        outcomes.append(outcome)
    if any(outcome.added for outcome in outcomes):
        proves = purpose == VisitCapture.Purpose.VERIFICATION
        visit_advance(visit=visit, to=Stage.VERIFY if proves else Stage.TEST, member=member)
    return outcomes


def _capture_add(
    *,
    visit: Visit,
    member: Member,
    upload: IncomingFile,
    purpose: str,
    label: str,
    keep_duplicate: bool,
    batch: UUID | None,
) -> UploadOutcome:
    name = (upload.name or "capture")[-120:]
    stored: str | None = None
    try:
        # Before the transaction: of a long file it takes seconds, and others would wait.
        digest = capture_digest(upload=upload)
        with transaction.atomic():
            # Asked again under the lock: it may have been closed while the file was looked at.
            check_stays_open(visit.pk)
            # Whatever was ticked: a form sent again must not double what it brought.
            own = VisitCapture.objects.filter(visit=visit, capture__sha256=digest).first()
            if own:
                return _on_this_job(name, own)
            added = capture_add(
                member=member,
                upload=upload,
                label=label,
                keep_duplicate=keep_duplicate,
                digest=digest,
            )
            if added.capture is None:
                return _duplicate(visit, name, added.duplicate_of)
            stored = added.capture.original.name
            tie = VisitCapture.objects.create(
                visit=visit, capture=added.capture, purpose=purpose, batch=batch
            )
            event_add(
                visit=visit,
                by=member,
                kind="capture",
                words=f"added the capture “{name}” ({tie.get_purpose_display().lower()})",
                data={"capture": added.capture.pk, "purpose": purpose},
            )
    except CaptureRefusedError as refused:
        return UploadOutcome(name, sentence=" ".join(refused.messages))
    except BaseException:
        if stored:
            stored_drop(name=stored)
        raise
    return UploadOutcome(name, added=tie)


@transaction.atomic
def capture_aside(*, tie: VisitCapture, member: Member, why: str) -> VisitCapture:
    """Set a capture aside, so that it is neither compared nor pooled; no words take it in again.

    Raises
    ------
    ValidationError
        If the job is closed or the reason is too long.
    """
    visit = Visit.objects.select_for_update(no_key=True).get(pk=tie.visit_id)
    check_open(visit)
    row = VisitCapture.objects.select_related("capture").get(pk=tie.pk)
    why = why.strip()
    if row.aside_why == why:
        return row
    row.aside_why = why
    row.full_clean(exclude=["visit", "capture"])
    row.save(update_fields=["aside_why"])
    event_add(
        visit=visit,
        by=member,
        kind="capture",
        words=f"set the capture “{row.capture}” aside: {why}"
        if why
        else f"took the capture “{row.capture}” in again",
        data={"capture": row.capture_id, "aside": why},
    )
    return row


def _let_go(upload: IncomingFile, outcome: UploadOutcome) -> None:
    """Keep of an upload only what may still be wanted.

    That is one that is elsewhere already: it may be wanted here too, and need not be sent again.
    """
    wanted = outcome.added or outcome.elsewhere
    if isinstance(upload, WholeUpload) and not upload.taken and not wanted:
        upload_discard(token=upload.token)


def _duplicate(visit: Visit, name: str, twin: object) -> UploadOutcome:
    ties = VisitCapture.objects.filter(
        visit__shop_id=visit.shop_id, capture__sha256=getattr(twin, "sha256", "")
    ).select_related("visit", "capture")
    own = next((tie for tie in ties if tie.visit_id == visit.pk), None)
    if own:
        return _on_this_job(name, own)
    other = next(iter(ties), None)
    where = f"{other.visit}" if other else "your shop"
    return UploadOutcome(
        name,
        elsewhere=other,
        sentence=(
            f"“{name}” has the same content as a capture of {where}; "
            "choose the right file, or tick “keep it here too” and send it again."
        ),
    )


def _on_this_job(name: str, own: VisitCapture) -> UploadOutcome:
    return UploadOutcome(
        name, already=own, sentence=f"“{name}” is on this job already; open the one that is here."
    )


@transaction.atomic
def judgement_sign(
    *,
    visit: Visit,
    member: Member,
    kind: str,
    mechanical: str,
    run: Run | None = None,
    cylinders: Collection[int] = (),
    reason: str = "",
    fault_group: str = "",
    form_token: UUID | None = None,
    confirmed: Confirmed = False,
) -> Judgement:
    """Sign a run's verdict, overrule it, or decide without a capture.

    Parameters
    ----------
    mechanical
        Whether a compression fault was found.
    cylinders
        Where the fault is; with no compression fault found, the cylinder that misfires.
    fault_group
        Where the fault lies when no compression fault was found; empty is "not settled".

    The same form token gives the same judgement, so that a form sent twice signs once. What stands
    signed already is asked back under another token unless `confirmed`, but where its order was
    withdrawn.

    Raises
    ------
    ValidationError
        If the run cannot be signed this way or a reason is missing; one sentence each.
    """
    locked = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    earlier = form_token and locked.judgements.filter(form_token=form_token).first()
    if earlier:
        return earlier
    check_open(locked)
    chosen = sorted(set(cylinders))
    reason = reason.strip()
    group = _group(mechanical, fault_group)
    # The cylinder that misfires is the person's word: the capture says nothing of it.
    beyond = mechanical == Judgement.Mechanical.NO
    if kind == Judgement.Kind.ACCEPTED:
        _check_not_overruled(run, mechanical)
    _check_kind(locked, kind, run, [] if beyond and _is_even(run) else chosen, reason)
    _check_cylinders(locked, run, chosen)
    said = {
        "run_id": run.pk if run else None,
        "kind": kind,
        "mechanical": mechanical,
        "fault_group": group,
        "cylinders": chosen,
        "reason": reason,
    }
    last = locked.judgements.order_by("-pk").first()
    if form_token and last and last.by_id == member.pk:
        withdrawn = WorkOrder.objects.filter(judgement=last, state=WorkOrder.State.WITHDRAWN)
        there = already_there([] if withdrawn.exists() else [last], **said)
        ask_back(confirmed, there, about=said)
    judgement = Judgement(
        visit=locked,
        **said,
        form_token=form_token,
        by=member,
    )
    judgement.full_clean(exclude={"run"} if run is None else None)
    judgement.save()
    event_add(
        visit=locked,
        by=member,
        kind="judgement",
        words=_signed_words(judgement),
        data={
            "judgement": judgement.pk,
            "run": run.pk if run else None,
            "kind": kind,
            "mechanical": mechanical,
            "fault_group": group,
            "cylinders": chosen,
            "together": together_json(_together(locked, run)),
        },
    )
    visit_advance(visit=locked, to=Stage.DECIDE, member=member)
    return judgement


def _check_not_overruled(run: Run | None, mechanical: str) -> None:
    report = run.report if run else None
    if report is None:
        return
    is_bank_weaker = bool(weaker_bank(report))
    if contradicts := why_overruled(report.verdict, mechanical, is_bank_weaker=is_bank_weaker):
        raise ValidationError({"mechanical": ValidationError(contradicts, code=OVERRULES)})


def _is_even(run: Run | None) -> bool:
    return run is not None and run.verdict == "even"


def _group(mechanical: str, asked: str) -> str:
    """Return the group that is signed; a compression fault and another group exclude each other."""
    if mechanical == Judgement.Mechanical.YES:
        if asked not in {"", FaultGroup.COMPRESSION}:
            raise ValidationError(
                {"fault_group": "A compression fault has no other group; choose one of the two."}
            )
        return FaultGroup.COMPRESSION.value
    if asked == FaultGroup.COMPRESSION:
        raise ValidationError(
            {"fault_group": "Choose where the fault lies other than in the compression."}
        )
    return asked or FaultGroup.UNSETTLED.value


def _together(visit: Visit, run: Run | None) -> CapturesTogether | None:
    """Return what the captures said together when the verdict was signed."""
    if run is None:
        return None
    return captures_together(
        visit,
        VisitCapture.objects.get(visit=visit, capture_id=run.capture_id).purpose,
        signed=run,
    )


def _check_kind(visit: Visit, kind: str, run: Run | None, chosen: list[int], reason: str) -> None:
    if kind == Judgement.Kind.WITHOUT_RUN:
        if run is not None:
            raise ValidationError("A decision without a capture names no run.")
        if not reason:
            raise ValidationError({"reason": "Say in your own words what you decided and why."})
        return
    if run is None:
        raise ValidationError("Choose the run whose verdict you sign or overrule.")
    if not VisitCapture.objects.filter(visit=visit, capture_id=run.capture_id).exists():
        raise ValidationError("That run belongs to another job; choose one of this job.")
    if run.state != Work.State.DONE:
        raise ValidationError("That run is not done; wait for its result, or decide without it.")
    if kind == Judgement.Kind.OVERRULED:
        if not reason:
            raise ValidationError(
                {"reason": "Say why you overrule the verdict: what did you see or measure?"}
            )
        return
    report = run.report
    why_not = why_not_accepted(report.verdict if report else None, visit.vehicle.drive)
    if report is None or why_not is not None:
        raise ValidationError(why_not or "That run has no result yet; wait for it.")
    _check_accepted(report, chosen, reason)


def _check_accepted(report: Report, chosen: list[int], reason: str) -> None:
    sets = [sorted(c) for c in report.candidates]
    everything = sorted({c for one in sets for c in one})
    if chosen not in [*sets, everything]:
        raise ValidationError(
            {
                "cylinders": "These are not the cylinders the verdict names; pick a set that fits, "
                "or overrule it with your reason."
            }
        )
    if len(sets) > 1 and chosen != everything and not reason:
        raise ValidationError(
            {
                "reason": "More than one set of cylinders fits; say what points at the one you "
                "picked, or pick all of them and let the gauge decide."
            }
        )


def _check_cylinders(visit: Visit, run: Run | None, chosen: list[int]) -> None:
    known = engine_sequence(visit, run)
    if known is None:
        strange = [c for c in chosen if not 1 <= c <= 16]
    else:
        strange = [c for c in chosen if c not in known]
    if strange:
        raise ValidationError(
            {"cylinders": f"This engine has no cylinder {strange[0]}; choose one it has."}
        )


def _signed_words(judgement: Judgement) -> str:
    verb = {
        Judgement.Kind.ACCEPTED: "accepted the verdict",
        Judgement.Kind.OVERRULED: "overruled the verdict",
        Judgement.Kind.WITHOUT_RUN: "decided without a capture",
    }[Judgement.Kind(judgement.kind)]
    what = judgement.get_mechanical_display().lower()
    where = f", {named(judgement.cylinders)}" if judgement.cylinders else ""
    if judgement.is_beyond_compression:
        what += f", {judgement.get_fault_group_display().lower()}"
    elif where:
        where += " suspect"
    why = f": {judgement.reason}" if judgement.reason else ""
    return f"{verb}: {what}{where}{why}"
