"""Questions and answers by e-mail: once, to the right person, and never in anybody's way."""
# ruff: noqa: F811 - fixtures that come from elsewhere

from smtplib import SMTPRecipientsRefused, SMTPServerDisconnected
from uuid import uuid4

import pytest
from django.core import mail as outbox_of
from django.core.mail.backends.locmem import EmailBackend
from django.urls import reverse

from jobs.models import Question, QuestionMail, WorkOrder
from jobs.runs.question_mails import NOT_TAKEN, UNSURE, question_mail_send
from jobs.services.questions import question_answer, question_ask
from shopdiag.people.models import User
from tests.jobs.work.kept_order import cast, kept, order, taken, visit  # noqa: F401 - fixtures
from traces.models import Work
from traces.runs.claims import MOST_ATTEMPTS
from traces.runs.sweeping import sweep


class Refusing(EmailBackend):
    """A mail server that lets in and then says no."""

    error: Exception = SMTPRecipientsRefused({"dana@shop.example": (450, b"later")})

    def send_messages(self, messages):  # noqa: ARG002 - Django's signature
        raise self.error


class Unreachable(EmailBackend):
    def open(self):
        raise ConnectionRefusedError(111, "refused")


class Breaking(Refusing):
    """A mail server whose connection breaks while it takes an e-mail."""

    error = SMTPServerDisconnected("gone")


class SlowlyBreaking(Refusing):
    error = TimeoutError("timed out")


@pytest.fixture(autouse=True)
def sent(settings, cast, monkeypatch):
    """Addresses, a set-up server, and a queue that keeps what it was given."""
    settings.EMAIL_IS_SET_UP = True
    settings.SITE_URL = "https://shop.example"
    User.objects.filter(pk=cast.diagnostician.user_id).update(email="dana@shop.example")
    User.objects.filter(pk=cast.mechanic.user_id).update(email="mika@shop.example", language="es")
    queued: list[tuple[str, int]] = []
    monkeypatch.setattr(
        "traces.runs.sending.current_app.send_task",
        lambda name, args: queued.append((name, args[0])),
    )
    return queued


def _ask(order, cast, text="Is the plug meant?", **more):
    order = WorkOrder.objects.get(pk=order.pk)
    return question_ask(order=order, member=cast.mechanic, text=text, **more)


def _use(settings, server: type) -> None:
    settings.EMAIL_BACKEND = f"{__name__}.{server.__name__}"


def test_a_question_goes_to_whoever_ordered_and_its_answer_comes_back(
    order,
    cast,
    sent,
    django_capture_on_commit_callbacks,
):
    assert order.created_by == cast.diagnostician
    customer = order.visit.vehicle.customer
    with django_capture_on_commit_callbacks(execute=True):
        question = _ask(order, cast, "Is the plug <b>meant</b> & now?")
    asked = QuestionMail.objects.get()
    assert sent == [("jobs.mail_question", asked.pk)]
    question_mail_send(asked.pk)
    with django_capture_on_commit_callbacks(execute=True):
        question_answer(question=question, member=cast.owner, text="Yes, plug 3.")
    question_mail_send(sent[1][1])

    told, answered = outbox_of.outbox
    assert (told.to, answered.to) == (["dana@shop.example"], ["mika@shop.example"])
    link = f"https://shop.example{reverse('jobs:work-order', args=[order.pk])}#questions"
    for message in (told, answered):
        assert order.visit.vehicle.plate in message.subject
        assert str(order.visit.number) in message.subject
        assert "Is the plug <b>meant</b> & now?" in message.body
        assert link in message.body
        assert customer.name not in f"{message.subject} {message.body}"
        assert not customer.phone or customer.phone not in message.body
        assert message.extra_headers["Auto-Submitted"] == "auto-generated"
    assert "Yes, plug 3." in answered.body
    # Each in their own language.
    assert told.subject.startswith("Question:")
    assert answered.subject.startswith("Respuesta:")
    assert told.extra_headers["Message-ID"] != answered.extra_headers["Message-ID"]
    assert list(QuestionMail.objects.values_list("state", flat=True)) == ["done", "done"]


def test_a_stop_says_so(order, cast):
    _ask(order, cast, "Coolant in cylinder 3.", is_stop=True)
    question_mail_send(QuestionMail.objects.get().pk)
    (told,) = outbox_of.outbox
    assert told.subject.startswith("Work stopped:")


def test_a_second_task_and_a_second_form_send_nothing_more(order, cast):
    token = uuid4()
    question = _ask(order, cast, form_token=token)
    assert _ask(order, cast, form_token=token) == question
    mail = QuestionMail.objects.get()
    question_mail_send(mail.pk)
    question_mail_send(mail.pk)
    sweep(everything_queued=True)
    assert len(outbox_of.outbox) == 1


@pytest.mark.parametrize("why", ["not set up", "no address", "left", "own"])
def test_nobody_is_written_to_without_reason(settings, order, cast, sent, why):
    if why == "not set up":
        settings.EMAIL_IS_SET_UP = False
    elif why == "no address":
        User.objects.update(email="")
    elif why == "left":
        type(cast.diagnostician).objects.filter(pk=cast.diagnostician.pk).update(active=False)
    asker = cast.diagnostician if why == "own" else cast.mechanic
    order = WorkOrder.objects.get(pk=order.pk)
    question_ask(order=order, member=asker, text="Which one?")
    assert Question.objects.count() == 1
    assert not QuestionMail.objects.exists()


def test_an_address_that_went_meanwhile_gets_none_and_the_order_says_so(
    order,
    cast,
    client_for,
):
    _ask(order, cast)
    mail = QuestionMail.objects.get()
    User.objects.update(email="")
    question_mail_send(mail.pk)
    mail.refresh_from_db()
    assert mail.state == Work.State.FAILED
    assert outbox_of.outbox == []
    page = client_for(cast.diagnostician).get(reverse("jobs:work-order", args=[order.pk]))
    (line,) = page.context["lines"]
    (shown,) = line[0].mails.all()
    assert shown.why_not
    assert shown.why_not in page.content.decode()


@pytest.mark.parametrize("server", [Unreachable, Refusing])
def test_a_server_that_takes_nothing_is_tried_again_and_then_told(
    settings,
    order,
    cast,
    server,
):
    _use(settings, server)
    _ask(order, cast)
    mail = QuestionMail.objects.get()
    for attempt in range(1, MOST_ATTEMPTS + 1):
        question_mail_send(mail.pk)
        mail.refresh_from_db()
        assert mail.attempts == attempt
        assert mail.handed_over_at is None
        assert mail.state == (Work.State.FAILED if attempt == MOST_ATTEMPTS else Work.State.QUEUED)
    assert mail.error == NOT_TAKEN
    question_mail_send(mail.pk)
    assert outbox_of.outbox == []


def test_a_server_that_comes_back_gets_it_once(settings, order, cast, sent):
    _use(settings, Unreachable)
    _ask(order, cast)
    mail = QuestionMail.objects.get()
    question_mail_send(mail.pk)
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    sweep(everything_queued=True)
    assert ("jobs.mail_question", mail.pk) in sent
    question_mail_send(mail.pk)
    question_mail_send(mail.pk)
    mail.refresh_from_db()
    assert (mail.state, len(outbox_of.outbox)) == (Work.State.DONE, 1)


@pytest.mark.parametrize("server", [Breaking, SlowlyBreaking])
def test_what_may_have_arrived_is_not_sent_again(settings, order, cast, server):
    _use(settings, server)
    _ask(order, cast)
    mail = QuestionMail.objects.get()
    question_mail_send(mail.pk)
    mail.refresh_from_db()
    assert (mail.state, mail.error) == (Work.State.FAILED, UNSURE)


def test_a_worker_that_died_over_it_is_not_repeated(order, cast):
    _ask(order, cast)
    mail = QuestionMail.objects.get()
    QuestionMail.objects.update(handed_over_at=mail.queued_at, attempts=1)
    question_mail_send(mail.pk)
    mail.refresh_from_db()
    assert (mail.state, mail.error) == (Work.State.FAILED, UNSURE)
    assert outbox_of.outbox == []


def test_a_queue_that_is_down_loses_no_question(
    order,
    cast,
    client_for,
    monkeypatch,
    django_capture_on_commit_callbacks,
):
    def down(*_: object, **__: object) -> None:
        raise ConnectionError

    monkeypatch.setattr("traces.runs.sending.current_app.send_task", down)
    address = reverse("jobs:question-ask", args=[order.pk])
    form = {"form_token": str(uuid4()), "is_stop": "False", "text": "Is the plug meant?"}
    with django_capture_on_commit_callbacks(execute=True):
        assert client_for(cast.mechanic).post(address, form).status_code == 302
    assert QuestionMail.objects.get().state == Work.State.QUEUED


def test_a_line_break_in_a_plate_begins_no_header(order, cast):
    vehicle = order.visit.vehicle
    type(vehicle).objects.filter(pk=vehicle.pk).update(plate="QX 1\nBcc: all@x")
    _ask(order, cast)
    question_mail_send(QuestionMail.objects.get().pk)
    (told,) = outbox_of.outbox
    assert told.message()["Bcc"] is None
    assert "\n" not in told.subject
