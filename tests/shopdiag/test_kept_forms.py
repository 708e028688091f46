"""A session that ended in mid-form, a page that grew old: what was typed is shown again."""

import re

import pytest
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.test import Client
from django.urls import reverse

from jobs.models import Note, Photo
from jobs.services.judgements import judgement_sign
from jobs.services.work import OrderWords, work_order_create, work_order_withdraw
from shopdiag.people.kept_forms import form_of
from shopdiag.people.typed_text import check_length
from tests.conftest import PASSWORD
from tests.shopdiag.furnished import picture
from tests.shopdiag.page_forms import filled, forms_to

TYPED = "Shakes at the lights,\nworse when cold."
SIGN_IN = reverse("people:sign-in")


def token_in(page):
    (token, *_) = re.findall(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
    return token


@pytest.fixture
def address(visit):
    return reverse("jobs:note-add", args=[visit.pk])


@pytest.fixture
def sent():
    return {"text": TYPED, "form_token": "6f1c5c1e-6d5b-4a38-9f3c-2d1f3f6f7a11"}


def test_what_was_typed_comes_back_after_signing_in(cast, visit, address, sent):
    browser = Client()
    asked = browser.post(address, sent)
    assert asked.status_code == 403
    kept = asked.context["kept"]
    wrong = browser.post(SIGN_IN, {"username": "diag", "password": "no", "kept": kept})
    again = wrong.context["kept"]
    assert form_of(again) == form_of(kept)
    page = browser.post(SIGN_IN, {"username": "diag", "password": PASSWORD, "kept": again})
    shown = page.context["kept"]
    assert shown.path == address
    assert dict(shown.items) == sent
    assert not Note.objects.exists()
    # Sent, and sent again from the browser's history.
    for _ in range(2):
        assert browser.post(shown.path, dict(shown.items)).status_code == 302
    note = Note.objects.get()
    assert (note.text.splitlines(), note.by) == (TYPED.splitlines(), cast.diagnostician)


def test_only_what_a_person_typed_is_shown(cast, visit):
    address = reverse("jobs:triage-edit", args=[visit.pk])
    browser = Client()
    browser.force_login(cast.diagnostician.user)
    (form,) = forms_to(browser.get(address), address, "jobs:triage-edit")
    sent = filled(form, {"remarks": TYPED})
    shown = Client().post(address, sent).context["kept"]
    kept = form_of(shown)
    assert kept is not None
    assert "opened" in dict(kept.items)
    page = Client().post(SIGN_IN, {"username": "diag", "password": PASSWORD, "kept": shown})
    assert [line.value for line in page.context["typed"]] == [TYPED]


def sent_again(address, page, sent, name="diag"):
    """Return what is read of a form that was sent from a page without a session."""
    shown = Client().post(address, sent, headers={"Referer": f"http://testserver{page}"})
    form = {"username": name, "password": PASSWORD, "kept": shown.context["kept"]}
    return [(t.label, t.value) for t in Client().post(SIGN_IN, form).context["typed"]]


def test_labels_and_choices_are_those_of_the_page(cast, visit):
    address = reverse("jobs:triage-edit", args=[visit.pk])
    sent = {"cranks": "uneven", "battery_v": "12.4", "version": "1", "opened": "{}"}
    assert sent_again(address, address, sent) == [
        ("Cranking sound", "Uneven"),
        ("Battery at rest", "12.4"),
    ]
    job = reverse("jobs:visit", args=[visit.pk])
    move = {"to": "triage", "reason": "Heard it run."}
    lines = sent_again(reverse("jobs:move", args=[visit.pk]), job, move)
    assert lines == [("Stage", "on to Triage"), ("Reason", "Heard it run.")]
    # a page that is gone, of another site, or without the form: names and values as they came
    for page in ("/elsewhere/", "//else.example/", address):
        lines = sent_again(reverse("jobs:move", args=[visit.pk]), page, move)
        assert lines == [("reason", "Heard it run.")]


def test_a_page_that_breaks_costs_the_labels_alone(cast, visit, monkeypatch):
    def breaks(*_args, **_more):
        raise RuntimeError("broken")

    monkeypatch.setattr("shopdiag.people.kept_labels.resolve", lambda _path: breaks)
    address = reverse("jobs:note-add", args=[visit.pk])
    assert sent_again(address, address, {"text": TYPED}) == [("text", TYPED)]


def test_the_new_page_carries_a_token_that_holds(cast, address, sent):
    browser = Client(enforce_csrf_checks=True)
    token = token_in(browser.get(SIGN_IN).content.decode())
    asked = browser.post(address, sent | {"csrfmiddlewaretoken": token})
    page = browser.post(
        SIGN_IN,
        {
            "username": "diag",
            "password": PASSWORD,
            "kept": asked.context["kept"],
            "csrfmiddlewaretoken": token_in(asked.content.decode()),
        },
    ).content.decode()
    done = browser.post(address, sent | {"csrfmiddlewaretoken": token_in(page)})
    assert done.status_code == 302
    assert Note.objects.count() == 1


@pytest.mark.parametrize(
    ("origin", "is_shown"), [("http://testserver", True), ("http://elsewhere", False), ("", False)]
)
def test_a_page_that_grew_old_gives_back_what_was_typed(cast, address, sent, origin, is_shown):
    # Signing in again in another window makes the token of the first one worthless.
    browser = Client(enforce_csrf_checks=True)
    browser.force_login(cast.diagnostician.user)
    headers = {"Origin": origin} if origin else {}
    answer = browser.post(address, sent | {"csrfmiddlewaretoken": "x" * 32}, headers=headers)
    assert answer.status_code == 403
    assert (TYPED.splitlines()[0] in answer.content.decode()) is is_shown
    assert not Note.objects.exists()


def test_typed_text_is_shown_as_text(cast, address):
    browser = Client()
    kept = browser.post(address, {"text": "<b>x</b>"}).context["kept"]
    page = browser.post(SIGN_IN, {"username": "diag", "password": PASSWORD, "kept": kept})
    assert "<b>x</b>" not in page.content.decode()
    assert "&lt;b&gt;x" in page.content.decode()


def test_a_line_that_is_not_ours_is_no_form(cast, address, sent):
    browser = Client()
    page = browser.post(SIGN_IN, {"username": "diag", "password": PASSWORD, "kept": "a:b:c"})
    assert page.status_code == 302
    assert form_of("a:b:c") is None


@pytest.mark.parametrize("data", [{}, {"password": "secret"}, {"text": "x" * 200_001}])
def test_nothing_to_keep_leads_to_the_sign_in(cast, address, data):
    answer = Client().post(address, data)
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith(SIGN_IN)


def test_too_long_a_text_is_told_and_not_cut(visit, cast):
    with pytest.raises(ValidationError) as error:
        check_length("reason", "x" * 401, 400)
    assert "401" in error.value.message_dict["reason"][0]
    check_length("reason", "x" * 400, 400)


def test_typed_words_of_an_order_are_not_cut(visit, cast):
    judgement = judgement_sign(
        visit=visit, member=cast.diagnostician, kind="without", mechanical="yes", reason="Gauge."
    )
    long = OrderWords(request="x" * 201)
    with pytest.raises(ValidationError) as error:
        work_order_create(judgement=judgement, member=cast.diagnostician, words=long)
    assert "request" in error.value.message_dict
    order = work_order_create(judgement=judgement, member=cast.diagnostician)
    with pytest.raises(ValidationError) as error:
        work_order_withdraw(order=order, member=cast.diagnostician, reason="x" * 401)
    assert "reason" in error.value.message_dict
    order.refresh_from_db()
    assert order.state == "open"


def test_a_file_is_asked_for_again_and_its_words_are_kept(cast, visit):
    browser = Client()
    address = reverse("jobs:photo-add", args=[visit.pk])
    token = "6f1c5c1e-6d5b-4a38-9f3c-2d1f3f6f7a11"
    # the words stand behind the file, as in the page's form
    asked = browser.post(
        address, {"form_token": token, "image": picture(), "caption": "Plug of cylinder 2"}
    )
    assert asked.status_code == 403
    page = browser.post(
        SIGN_IN, {"username": "diag", "password": PASSWORD, "kept": asked.context["kept"]}
    )
    kept = page.context["kept"]
    assert [(file.field, file.name) for file in kept.files] == [("image", "IMG_0001.JPG")]
    assert ("caption", "Plug of cylinder 2") in kept.items
    (form,) = forms_to(page, SIGN_IN, "jobs:photo-add")
    assert {"image", "caption"} <= form.names
    assert form.is_multipart
    done = browser.post(form.action, filled(form, {"image": picture()}))
    assert done.status_code == 302
    photo = Photo.objects.get()
    assert (photo.caption, str(photo.form_token)) == ("Plug of cylinder 2", token)


def test_a_file_alone_is_asked_for_again_too(cast, visit):
    browser = Client()
    address = reverse("jobs:capture-upload", args=[visit.pk])
    asked = browser.post(address, {"purpose": "diagnosis", "recordings": [picture(), picture()]})
    page = browser.post(
        SIGN_IN, {"username": "diag", "password": PASSWORD, "kept": asked.context["kept"]}
    )
    assert len(page.context["kept"].files) == 2
    (form,) = forms_to(page, SIGN_IN, "jobs:capture-upload")
    assert "recordings" in form.names
    assert form.sent["purpose"] == ["diagnosis"]


def test_of_a_large_file_of_a_stranger_nothing_is_read(cast, visit, settings):
    settings.PHOTO_LIMIT_MB = 0
    address = reverse("jobs:photo-add", args=[visit.pk])
    large = ContentFile(b"x" * 2_000_000, "long.csv")
    asked = Client().post(address, {"caption": "Plug", "image": large})
    assert asked.status_code == 403
    kept = form_of(asked.context["kept"])
    assert kept
    assert ("caption", "Plug") in kept.items


def test_a_page_that_grew_old_asks_for_its_file_again(cast, visit):
    browser = Client(enforce_csrf_checks=True)
    browser.force_login(cast.diagnostician.user)
    answer = browser.post(
        reverse("jobs:photo-add", args=[visit.pk]),
        {"image": picture(), "caption": "Plug", "csrfmiddlewaretoken": "x" * 32},
        headers={"Origin": "http://testserver"},
    )
    assert answer.status_code == 403
    assert [file.name for file in answer.context["kept"].files] == ["IMG_0001.JPG"]
    assert [line.value for line in answer.context["typed"]] == ["Plug"]
