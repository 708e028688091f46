"""What rests on a capture that was made after the repair."""

from django.utils.translation import gettext, ngettext

from jobs.models import Outcome, VisitCapture


def doubts_without_proof(tie: VisitCapture) -> tuple[str, ...]:
    """Return what is asked before a capture proves no repair any more; nothing where none rests.

    A repair that is said to hold rests on the captures made after it, of the cranked engine or of
    the idling one.
    """
    if not tie.is_after_repair or tie.is_aside:
        return ()
    holds = Outcome.objects.filter(visit=tie.visit_id, verified=Outcome.Verified.YES)
    if not holds.exists():
        return ()
    proofs = VisitCapture.objects.filter(
        visit=tie.visit_id, purpose__in=VisitCapture.AFTER_REPAIR, aside_why=""
    )
    others = proofs.exclude(pk=tie.pk).count()
    if not others:
        return (
            gettext(
                "The repair is said to hold, and no other capture was made after it. Take this "
                "one back all the same, and go over the outcome?"
            ),
        )
    return (
        ngettext(
            "The repair is said to hold. Take this capture back and leave %(count)s other to "
            "prove it?",
            "The repair is said to hold. Take this capture back and leave %(count)s others to "
            "prove it?",
            others,
        )
        % {"count": others},
    )
