"""Questions on work orders: the thread of one order, and which jobs wait for an answer."""

from collections.abc import Sequence

from django.db.models import Exists, OuterRef, Prefetch

from jobs.models import Note, Question, QuestionMail, WorkOrder
from shopdiag.people.models import Member


def thread_of(order: WorkOrder) -> tuple[Question | Note, ...]:
    """Return the questions of an order and the notes of its job in one row, oldest first."""
    asked = order.questions.select_related("by__user", "answered_by__user").prefetch_related(
        Prefetch("mails", QuestionMail.objects.select_related("to__user"))
    )
    notes = order.visit.notes.select_related("by__user")
    return tuple(sorted([*asked, *notes], key=lambda line: line.at))


def stopped_with(thread: Sequence[Question | Note]) -> Question | None:
    """Return the last stop in a thread that nobody answered; None where there is none."""
    stops = [q for q in thread if isinstance(q, Question) and q.is_stop and q.answered_at is None]
    return stops[-1] if stops else None


def stopped_orders() -> Exists:
    """Return the condition, for a query of work orders, that one waits for the answer to a stop."""
    return Exists(
        Question.objects.filter(work_order=OuterRef("pk"), is_stop=True, answered_at=None)
    )


def open_questions(member: Member) -> dict[int, list[Question]]:
    """Return the questions that a member may see and nobody answered, by the number of the job."""
    found: dict[int, list[Question]] = {}
    for question in (
        Question.objects.seen_by(member)
        .filter(answered_at=None, work_order__state__in=WorkOrder.OPEN_STATES)
        .select_related("work_order")
        .order_by("pk")
    ):
        found.setdefault(question.work_order.visit_id, []).append(question)
    return found
