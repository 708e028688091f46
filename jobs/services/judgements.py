"""Verdicts are signed, and never changed afterwards."""

from collections.abc import Collection
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from jobs.core.accepting import why_not_accepted, why_overruled
from jobs.core.groups import FaultGroup
from jobs.core.stages import Stage
from jobs.models import Judgement, Visit, VisitCapture, WorkOrder
from jobs.selectors.captures import engine_sequence
from jobs.selectors.pooled_captures import CapturesTogether, captures_together, together_json
from jobs.services.timeline import event_add
from jobs.services.visits import check_open, visit_advance
from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.models import Member
from traces.core.report import Report, weaker_bank
from traces.models import Run, Work

OVERRULES = "overrules"
"""Code of the refusal of an answer that overrules the verdict it would accept."""


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
    if group == FaultGroup.NONE_FOUND and chosen:
        raise ValidationError(
            {"fault_group": _("“No fault found” names no cylinder; choose a group or no cylinder.")}
        )
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
        words=lambda: _signed_words(judgement),
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
                {"fault_group": _("A compression fault has no other group; choose one of the two.")}
            )
        return FaultGroup.COMPRESSION.value
    if asked == FaultGroup.COMPRESSION:
        raise ValidationError(
            {"fault_group": _("Choose where the fault lies other than in the compression.")}
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
            raise ValidationError(_("A decision without a capture names no run."))
        if not reason:
            raise ValidationError({"reason": _("Say in your own words what you decided and why.")})
        return
    if run is None:
        raise ValidationError(_("Choose the run whose verdict you sign or overrule."))
    _check_capture(visit, run)
    if run.state != Work.State.DONE:
        raise ValidationError(_("That run is not done; wait for its result, or decide without it."))
    if kind == Judgement.Kind.OVERRULED:
        if not reason:
            raise ValidationError(
                {"reason": _("Say why you overrule the verdict: what did you see or measure?")}
            )
        return
    report = run.report
    why_not = why_not_accepted(report.verdict if report else None, visit.vehicle.drive)
    if report is None or why_not is not None:
        raise ValidationError(why_not or _("That run has no result yet; wait for it."))
    _check_accepted(report, chosen, reason)


def _check_capture(visit: Visit, run: Run) -> None:
    tie = VisitCapture.objects.filter(visit=visit, capture_id=run.capture_id).first()
    if tie is None:
        raise ValidationError(_("That run belongs to another job; choose one of this job."))
    # the run's own signal counts, too: the capture may have been set up anew since
    if not (tie.is_cranked and run.setup.analysis.kind.shows_compressions):
        raise ValidationError(
            _(
                "Neither an idling engine nor the pressure in one cylinder compares the "
                "cylinders' compression: sign a capture of the cranked engine, or name the "
                "cylinder with your reason and decide without a cranking capture."
            )
        )


def _check_accepted(report: Report, chosen: list[int], reason: str) -> None:
    sets = [sorted(c) for c in report.candidates]
    everything = sorted({c for one in sets for c in one})
    if chosen not in [*sets, everything]:
        raise ValidationError(
            {
                "cylinders": _(
                    "These are not the cylinders the verdict names; pick a set that fits, "
                    "or overrule it with your reason."
                )
            }
        )
    if len(sets) > 1 and chosen != everything and not reason:
        raise ValidationError(
            {
                "reason": _(
                    "More than one set of cylinders fits; say what points at the one you "
                    "picked, or pick all of them and let the gauge decide."
                )
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
            {
                "cylinders": _("This engine has no cylinder %(strange)s; choose one it has.")
                % {"strange": strange[0]}
            }
        )


def _signed_words(judgement: Judgement) -> str:
    verb = {
        Judgement.Kind.ACCEPTED: _("accepted the verdict"),
        Judgement.Kind.OVERRULED: _("overruled the verdict"),
        Judgement.Kind.WITHOUT_RUN: _("decided without a capture"),
    }[Judgement.Kind(judgement.kind)]
    what = judgement.get_mechanical_display().lower()
    where = f", {judgement.cylinder_words}" if judgement.cylinders else ""
    if judgement.is_beyond_compression:
        what += f", {judgement.get_fault_group_display().lower()}"
    elif where:
        where += _(" suspect")
    why = f": {judgement.reason}" if judgement.reason else ""
    return f"{verb}: {what}{where}{why}"
