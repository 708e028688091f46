"""The forms of an order's page: tables for readings, fields for what is only seen, the thread."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext

from jobs.forms.finding import FindingForm
from jobs.forms.questions import AnswerForm, QuestionForm
from jobs.forms.reading_table import ReadingTable, has_table
from jobs.models import Note, Question, WorkOrder
from jobs.selectors.checklist import Checklist, ChecklistItem
from jobs.selectors.questions import stopped_with


@dataclass(frozen=True, slots=True)
class Step:
    """One wanted test with the form it is recorded by.

    Parameters
    ----------
    table
        For readings of all cylinders; None where the test has none or nobody may record.
    quick
        For what is seen: outcome and words; None likewise.
    is_open
        Whether it is shown unfolded.
    """

    item: ChecklistItem
    table: ReadingTable | None
    quick: FindingForm | None
    is_open: bool
    is_main: bool = False
    """Whether saving it is the one main thing of the page."""

    @property
    def has_form(self) -> bool:
        """Whether it is recorded here."""
        return self.table is not None or self.quick is not None


def steps_of(
    order: WorkOrder,
    checklist: Checklist,
    refused: ReadingTable | None,
    *,
    may_record: bool,
    is_stopped: bool = False,
) -> list[Step]:
    """Return an order's wanted tests with their forms.

    Parameters
    ----------
    refused
        A table that was filled and is shown again.
    may_record
        Whether the order takes findings from whoever looks at it.
    is_stopped
        Whether the work waits for an answer, so that no test is the next one.
    """
    has_next = order.state in WorkOrder.OPEN_STATES and not is_stopped
    steps = []
    for item in checklist.items:
        test = item.line.record_as
        has_form = item.is_first_of_test and not item.line.is_swap
        table, quick = None, None
        if has_form and refused is not None and refused.test_key == test:
            table = refused
        elif has_form and may_record and has_table(order, test):
            table = ReadingTable(order=order, test=test)
        elif has_form and may_record:
            quick = _quick(order, item)
        is_refused = table is not None and table is refused
        is_open = is_refused or (item.is_open and refused is None and has_next)
        steps.append(Step(item, table, quick, is_open))
    main = next((n for n, step in enumerate(steps) if step.is_open and step.has_form), None)
    return [replace(step, is_main=n == main) for n, step in enumerate(steps)]


def _quick(order: WorkOrder, item: ChecklistItem) -> FindingForm:
    initial: dict[str, object] = {"test": item.line.record_as}
    if len(order.cylinders) == 1 and not item.line.whole_engine:
        initial["cylinder"] = str(order.cylinders[0])
    unit = order.visit.shop.pressure_unit
    return FindingForm(order=order, unit=unit, initial=initial, auto_id=f"id_{item.number}_%s")


def thread_forms(
    thread: Sequence[Question | Note],
    asked: QuestionForm | None = None,
    answered: AnswerForm | None = None,
    *,
    may_answer: bool,
) -> dict[str, Any]:
    """Return the forms of an order's thread; one that was filled and refused stays as it is.

    Lines come in their order; for who may answer what is to be answered next comes first.
    """
    is_stop = asked is not None and asked.is_stopping
    lines = []
    for line in thread:
        form = None
        if isinstance(line, Question) and line.answered_at is None:
            is_this = answered is not None and answered.data.get("question") == str(line.pk)
            form = answered if is_this else AnswerForm(question=line.pk)
        lines.append((line, form))
    waiting = [line for line, form in lines if form]
    main = stopped_with(thread) or next(iter(waiting), None)
    if may_answer:
        lines.sort(key=lambda entry: entry[0] is not main)
    return {
        "lines": lines,
        "main_answer": main.pk if main else None,
        "thread_line": gettext("Not answered yet.") if waiting else str(len(lines)),
        "ask_form": asked if asked and not is_stop else QuestionForm(is_stop=False),
        "stop_form": asked if asked and is_stop else QuestionForm(is_stop=True),
    }
