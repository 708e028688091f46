"""The shop's library of sound engines: keeping a run in it, taking one out."""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shopdiag.people.models import Member, Shop
from shopdiag.people.typed_text import check_length
from traces.core.report import is_noteworthy
from traces.models import KnownGood, Run, Work


class KnownGoodError(ValidationError):
    """The run is not kept; the text is one sentence with what to do."""


def known_good_keep(
    *, member: Member, run: Run, note: str = "", although_uneven: bool = False
) -> KnownGood:
    """Keep a judged run as known good; one that is kept already stays as it is.

    Its conditions stand in the run's set-up, which never changes.

    Parameters
    ----------
    although_uneven
        Keep it even if the verdict is uneven, because that is how this engine is built; the
        note has to say so.

    Raises
    ------
    KnownGoodError
        If the run is not judged, had a plug out, names no engine, or is uneven without a reason.
    """
    note = note.strip()
    engine = run.setup.engine
    check_length("note", note, 200)
    if run.state != Work.State.DONE or run.verdict in {"", "not judged"}:
        raise KnownGoodError(_("Only a judged capture can be known good; this one is not judged."))
    kind = run.setup.analysis.kind
    if not (kind.shows_compressions or kind.shows_one_cylinder):
        raise KnownGoodError(
            _("An idling engine shows no compressions; keep a capture of the cranked engine.")
        )
    opened = run.setup.analysis.opened_plug
    if opened is not None:
        raise KnownGoodError(
            _(
                "The plug of cylinder %(opened)s was out in this capture, so it is no "
                "measure for others; record one with all plugs in."
            )
            % {"opened": opened}
        )
    if engine is None:
        raise KnownGoodError(
            _(
                "The set-up names no engine to file it under; analyse it again and choose the "
                "engine."
            )
        )
    is_good = is_plainly_good(run)
    if not is_good and not although_uneven:
        raise KnownGoodError(
            _(
                "This capture is uneven or shows a fault, so it is no measure for others; if this "
                "engine is built that way, say so and tick the box."
            )
        )
    if not is_good and not note:
        raise KnownGoodError(_("Say in the note why an uneven capture is good for this engine."))
    with transaction.atomic():
        # One at a time in a shop, so that a double submit finds the first.
        Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
        kept = KnownGood.objects.seen_by(member).filter(run=run, retired_at=None).first()
        return kept or KnownGood.objects.create(
            shop_id=member.shop_id,
            run=run,
            engine=engine,
            note=note,
            created_by=member,
        )


def is_plainly_good(run: Run) -> bool:
    """Return whether a run shows nothing that speaks against keeping it."""
    report = run.report
    if report is None:
        return False
    return report.verdict == "even" or (report.verdict == "measured" and not is_noteworthy(report))


def known_good_retire(*, member: Member, entry: KnownGood, retired: bool = True) -> bool:
    """Take an entry out of the library, or bring it back; return whether anything changed.

    One whose run was kept again meanwhile stays out: a run is in the library once.
    """
    with transaction.atomic():
        Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
        entries = KnownGood.objects.seen_by(member)
        if not retired and entries.filter(run_id=entry.run_id, retired_at=None).exists():
            return False
        return bool(
            entries.filter(pk=entry.pk, retired_at__isnull=retired).update(
                retired_at=timezone.now() if retired else None,
                retired_by=member if retired else None,
            )
        )
