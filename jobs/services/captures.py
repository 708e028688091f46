"""Captures come to a visit, and are never changed afterwards."""

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from jobs.core.stages import Stage
from jobs.models import Visit, VisitCapture
from jobs.selectors.captures import why_no_proof
from jobs.selectors.proofs import doubts_without_proof
from jobs.services.timeline import event_add
from jobs.services.visits import LONGEST_REASON, check_open, check_stays_open, visit_advance
from shopdiag.people.asking_back import Confirmed, ask_back
from shopdiag.people.models import Member
from traces.services import CaptureRefusedError, capture_add, capture_digest, stored_drop
from traces.services.uploads import upload_discard
from traces.uploads.files import WholeUpload
from traces.uploads.limits import IncomingFile


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
    where
        What `already` counts as, where that is not what the file was sent as.
    """

    name: str
    added: VisitCapture | None = None
    already: VisitCapture | None = None
    elsewhere: VisitCapture | None = None
    sentence: str = ""
    where: str = ""


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
        proves = purpose in VisitCapture.AFTER_REPAIR
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
                return _on_this_job(name, own, purpose)
            added = capture_add(
                member=member,
                upload=upload,
                label=label,
                keep_duplicate=keep_duplicate,
                digest=digest,
            )
            if added.capture is None:
                return _duplicate(visit, name, added.duplicate_of, purpose)
            stored = added.capture.original.name
            tie = VisitCapture.objects.create(
                visit=visit, capture=added.capture, purpose=purpose, batch=batch
            )
            event_add(
                visit=visit,
                by=member,
                kind="capture",
                words=lambda: (
                    _("added the capture “%(name)s” (%(purpose)s)")
                    % {"name": name, "purpose": tie.get_purpose_display().lower()}
                ),
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
def capture_aside(
    *, tie: VisitCapture, member: Member, why: str, confirmed: Confirmed = False
) -> VisitCapture:
    """Set a capture aside, so that it is neither compared nor pooled; no words take it in again.

    Parameters
    ----------
    confirmed
        Whether a person was asked about a repair that is said to hold by it, and stands by it.

    Raises
    ------
    ValidationError
        If the job is closed, the reason is too long, or it takes back a proof unconfirmed.
    """
    visit = Visit.objects.select_for_update(no_key=True).get(pk=tie.visit_id)
    check_open(visit)
    row = VisitCapture.objects.select_related("capture").get(pk=tie.pk)
    why = why.strip()
    if row.aside_why == why:
        return row
    if why:
        ask_back(
            confirmed, doubts_without_proof(row), about={"capture": row.capture_id, "why": why}
        )
    row.aside_why = why
    row.full_clean(exclude=["visit", "capture"])
    row.save(update_fields=["aside_why"])
    event_add(
        visit=visit,
        by=member,
        kind="capture",
        words=lambda: (
            _("set the capture “%(capture)s” aside: %(why)s") % {"capture": row.capture, "why": why}
            if why
            else _("took the capture “%(capture)s” in again") % {"capture": row.capture}
        ),
        data={"capture": row.capture_id, "aside": why},
    )
    return row


@transaction.atomic
def capture_purpose_set(
    *,
    tie: VisitCapture,
    member: Member,
    purpose: str,
    reason: str = "",
    confirmed: Confirmed = False,
) -> VisitCapture:
    """Count a capture as made after the repair, or for the diagnosis again.

    Parameters
    ----------
    reason
        Why a proof counts for the diagnosis; needed once the repair is said to hold.
    confirmed
        Whether a person was asked about taking such a proof back, and stands by it.

    Raises
    ------
    ValidationError
        If the job is closed, nothing is diagnosed that a repair could be proved of, a verdict
        was signed on the capture, or it takes back a proof without a reason or unconfirmed.
    """
    visit = Visit.objects.select_for_update(no_key=True).get(pk=tie.visit_id)
    check_open(visit)
    row = VisitCapture.objects.select_related("capture").get(pk=tie.pk)
    proves = purpose in VisitCapture.AFTER_REPAIR
    purpose = VisitCapture.purpose_for(row.shows, is_after=proves)
    if row.purpose == purpose:
        return row
    reason = " ".join(reason.split())
    if len(reason) > LONGEST_REASON:
        raise ValidationError(
            {"reason": _("Say it in at most %(most)s characters.") % {"most": LONGEST_REASON}}
        )
    if not proves and (doubts := doubts_without_proof(row)):
        if not reason:
            raise ValidationError(
                {"reason": _("The repair is said to hold: say why this capture proves it no more.")}
            )
        about = {"capture": row.capture_id, "purpose": purpose, "reason": reason}
        ask_back(confirmed, doubts, about=about)
    row.purpose = purpose
    row.full_clean(exclude=["visit", "capture"])
    if proves and (why_not := why_no_proof(row)):
        raise ValidationError({"purpose": why_not})
    row.save(update_fields=["purpose"])
    event_add(
        visit=visit,
        by=member,
        kind="capture",
        words=lambda: (
            (
                _("counts the capture “%(capture)s” as made after the repair")
                if proves
                else _("counts the capture “%(capture)s” for the diagnosis")
            )
            % {"capture": row.capture}
            + (f": {reason}" if reason else "")
        ),
        data={"capture": row.capture_id, "purpose": purpose}
        | ({"reason": reason} if reason else {}),
    )
    if proves:
        visit_advance(visit=visit, to=Stage.VERIFY, member=member)
    return row


def _let_go(upload: IncomingFile, outcome: UploadOutcome) -> None:
    """Keep of an upload only what may still be wanted.

    That is one that is elsewhere already: it may be wanted here too, and need not be sent again.
    """
    wanted = outcome.added or outcome.elsewhere
    if isinstance(upload, WholeUpload) and not upload.taken and not wanted:
        upload_discard(token=upload.token)


def _duplicate(visit: Visit, name: str, twin: object, purpose: str) -> UploadOutcome:
    ties = VisitCapture.objects.filter(
        visit__shop_id=visit.shop_id, capture__sha256=getattr(twin, "sha256", "")
    ).select_related("visit", "capture")
    own = next((tie for tie in ties if tie.visit_id == visit.pk), None)
    if own:
        return _on_this_job(name, own, purpose)
    other = next(iter(ties), None)
    where = f"{other.visit}" if other else _("your shop")
    return UploadOutcome(
        name,
        elsewhere=other,
        sentence=(
            _(
                "“%(name)s” has the same content as a capture of %(where)s; choose the "
                "right file, or tick “keep it here too” and send it again."
            )
            % {"name": name, "where": where}
        ),
    )


def _on_this_job(name: str, own: VisitCapture, purpose: str) -> UploadOutcome:
    """Lead to the capture that is here, and say where it counts if that is not what was asked.

    Whether the engine idles in it follows from its set-up, so only before or after is compared.
    """
    where = ""
    if own.is_aside:
        where = _(
            "“%(name)s” is on this job already and set aside: %(why)s. Let it count again there."
        )
    elif purpose in VisitCapture.AFTER_REPAIR and not own.is_after_repair:
        where = _(
            "“%(name)s” is on this job already, for the diagnosis. If it was made after the "
            "repair, say so there."
        )
    elif own.is_after_repair and purpose not in VisitCapture.AFTER_REPAIR:
        where = _(
            "“%(name)s” is on this job already, as made after the repair. If it was made before, "
            "say so there."
        )
    figures = {"name": name, "why": own.aside_why.rstrip(".")}
    here = _("“%(name)s” is on this job already; open the one that is here.")
    return UploadOutcome(
        name, already=own, sentence=(where or here) % figures, where=where % figures
    )
