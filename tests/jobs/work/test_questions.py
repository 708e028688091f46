"""A question from the order: it marks job and board until it is answered, and comes back."""

from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.models import Note, Question, TimelineEvent, Visit, WorkOrder
from jobs.selectors.board import board_of
from jobs.selectors.questions import open_questions, stopped_with, thread_of
from jobs.services.completion import work_order_complete
from jobs.services.findings import NewFinding, finding_add
from jobs.services.notes import note_add
from jobs.services.questions import question_answer, question_ask
from shopdiag.people.asking_back import CONFIRMED
from tests.jobs.work.kept_order import cast, kept, order, taken, visit  # noqa: F401 - fixtures
from tests.wording import says


@pytest.fixture
def here(order):  # noqa: F811
    return reverse("jobs:work-order", args=[order.pk])


def asked(order, cast, text="Is the plug meant?", **more):  # noqa: F811
    return question_ask(order=order, member=cast.mechanic, text=text, **more)


def test_it_reaches_whoever_ordered_and_the_answer_comes_back(client_for, order, cast, here):  # noqa: F811
    sent = {"form_token": str(uuid4()), "is_stop": "False", "text": "Is the plug meant?"}
    address = reverse("jobs:question-ask", args=[order.pk])
    told = client_for(cast.mechanic).post(address, sent)
    assert told.headers["Location"] == f"{here}#questions"
    question = Question.objects.get()
    assert (question.by, question.is_stop) == (cast.mechanic, False)
    (row,) = board_of(cast.diagnostician).waiting
    assert (row.visit.pk, row.is_mine) == (order.visit_id, True)
    assert board_of(cast.diagnostician).stopped == ()
    job = client_for(cast.diagnostician).get(reverse("jobs:visit", args=[order.visit_id]))
    assert "Is the plug meant?" in job.content.decode()

    answered = {"question": str(question.pk), "answer": "Yes, plug 3."}
    address = reverse("jobs:question-answer", args=[order.pk])
    assert client_for(cast.diagnostician).post(address, answered).status_code == 302
    question.refresh_from_db()
    assert (question.answer, question.answered_by) == ("Yes, plug 3.", cast.diagnostician)
    assert board_of(cast.diagnostician).waiting == ()
    assert "Yes, plug 3." in client_for(cast.mechanic).get(here).content.decode()
    told_in = TimelineEvent.objects.filter(kind="question").order_by("pk")
    assert [(event.by, event.data["question"]) for event in told_in] == [
        (cast.mechanic, question.pk),
        (cast.diagnostician, question.pk),
    ]


def test_a_stop_is_told_before_questions_and_on_the_order(client_for, order, cast, here):  # noqa: F811
    asked(order, cast)
    stop = asked(order, cast, "Coolant runs out of cylinder 3.", is_stop=True)
    board = board_of(cast.diagnostician)
    assert [row.visit.pk for row in board.stopped if row.is_mine] == [order.visit_id]
    assert board.waiting == ()
    assert [row.is_mine for row in board_of(cast.mechanic).stopped] == [False]
    card = next(v for c in board_of(cast.writer).columns for v in c.visits)
    assert card.asks == "stop"
    assert client_for(cast.mechanic).get(here).context["stopped"] == stop
    question_answer(question=stop, member=cast.diagnostician, text="Leave it, I come over.")
    assert client_for(cast.mechanic).get(here).context["stopped"] is None
    board = board_of(cast.diagnostician)
    assert (len(board.waiting), board.stopped) == (1, ())


def test_questions_and_notes_are_one_thread(order, cast):  # noqa: F811
    note_add(visit=order.visit, text="Customer waits.", member=cast.writer)
    question = asked(order, cast)
    note_add(visit=order.visit, text="Bolt ordered.", member=cast.mechanic)
    kinds = [type(line) for line in thread_of(order)]
    assert kinds == [Note, Question, Note]
    assert stopped_with(thread_of(order)) is None
    assert open_questions(cast.owner) == {order.visit_id: [question]}
    assert open_questions(cast.outsider) == {}


def test_nothing_is_asked_or_answered_twice(order, cast):  # noqa: F811
    token = uuid4()
    question = asked(order, cast, form_token=token)
    assert asked(order, cast, form_token=token) == question
    with pytest.raises(ValidationError) as refused:
        asked(order, cast, form_token=uuid4())
    assert says(refused.value, "asking_back.same-here-already-entered")
    question_answer(question=question, member=cast.owner, text="Yes.")
    question_answer(question=question, member=cast.owner, text="Yes.")
    with pytest.raises(ValidationError) as refused:
        question_answer(question=question, member=cast.diagnostician, text="No.")
    assert says(refused.value, "questions.answered-meanwhile", answer="Yes")
    assert TimelineEvent.objects.filter(kind="question").count() == 2


@pytest.mark.parametrize("text", ["", "  ", "y" * 1001])
def test_what_says_nothing_or_too_much_is_refused(client_for, order, cast, text):  # noqa: F811
    address = reverse("jobs:question-ask", args=[order.pk])
    sent = {"form_token": str(uuid4()), "is_stop": "True", "text": text}
    answer = client_for(cast.mechanic).post(address, sent)
    assert answer.status_code == 422
    assert list(answer.context["stop_form"].errors) == ["text"]
    with pytest.raises(ValidationError):
        asked(order, cast, text)
    assert not Question.objects.exists()


def test_a_finished_order_and_a_closed_job_take_no_question(order, cast):  # noqa: F811
    question = asked(order, cast)
    WorkOrder.objects.filter(pk=order.pk).update(state="done")
    with pytest.raises(ValidationError, match="finished"):
        asked(order, cast, "And now?")
    assert open_questions(cast.owner) == {}
    Visit.objects.filter(pk=order.visit_id).update(stage="closed")
    with pytest.raises(ValidationError):
        question_answer(question=question, member=cast.owner, text="Too late.")


def test_a_question_of_another_order_is_not_answered_here(client_for, order, cast):  # noqa: F811
    address = reverse("jobs:question-answer", args=[order.pk])
    browser = client_for(cast.diagnostician)
    for number in ("999", "x", ""):
        assert browser.post(address, {"question": number, "answer": "Yes."}).status_code == 404


def test_the_job_page_leads_to_the_question_and_says_that_work_is_stopped(client_for, order, cast):  # noqa: F811
    address = reverse("jobs:visit", args=[order.visit_id])
    asked(order, cast)
    page = client_for(cast.diagnostician).get(address).context["page"]
    assert (page.following.step, page.following.is_mine) == ("answer", True)
    assert (page.following.number, page.following.anchor) == (order.pk, "#questions")
    assert client_for(cast.mechanic).get(address).context["page"].following.step != "answer"
    asked(order, cast, "The head bolt is broken.", is_stop=True)
    for member, is_mine in ((cast.diagnostician, True), (cast.mechanic, False)):
        page = client_for(member).get(address).context["page"]
        assert (page.following.step, page.following.is_mine) == ("call_back", is_mine)
        assert [text for text in page.short.questions if "The head bolt is broken." in text]


def test_a_stopped_order_is_not_completed_without_being_asked_back(client_for, order, cast, here):  # noqa: F811
    finding_add(order=order, member=cast.mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    stop = asked(order, cast, "Coolant runs out.", is_stop=True)
    browser = client_for(cast.mechanic)
    address = reverse("jobs:work-order-complete", args=[order.pk])
    sent = {"summary": "Valve.", "left_out": "Clear."}
    refused = browser.post(address, sent)
    form = refused.context["complete_form"]
    assert set(form.errors) == {CONFIRMED}
    order.refresh_from_db()
    assert order.state == WorkOrder.State.ACCEPTED
    # another stop is another question
    digest = form.fields[CONFIRMED].widget.digest
    other = asked(order, cast, "Oil as well.", is_stop=True)
    assert browser.post(address, {**sent, CONFIRMED: digest}).status_code != 302
    for question in (stop, other):
        question_answer(question=question, member=cast.diagnostician, text="Finish it.")
    assert browser.post(address, sent).status_code == 302
    order.refresh_from_db()
    assert order.state == WorkOrder.State.DONE


def test_a_stopped_order_is_completed_once_that_is_confirmed(order, cast):  # noqa: F811
    finding_add(order=order, member=cast.mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    asked(order, cast, "Coolant runs out.", is_stop=True)
    done = work_order_complete(
        order=order, member=cast.mechanic, summary="Valve.", left_out="Clear.", confirmed=True
    )
    assert done.state == WorkOrder.State.DONE
