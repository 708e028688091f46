"""Every form of every page, sent, gone back to, and sent again; and with too long a text.

A form that somebody sends twice records once, whatever was sent in between. Without scripts a
browser that goes back fetches a fresh page under the old words: that adds nothing either, and a row
that says something more when it is there twice is asked back. A text over its limit is told and
shown again, and nothing is saved.
"""

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.shared_rows import Kept, kept_rows
from tests.shopdiag.form_cases import CASES, OTHERS, Case, Typed
from tests.shopdiag.furnished import Furnished, make_furnished
from tests.shopdiag.page_forms import PageForm, filled, forms_on, forms_to
from tests.stored_rows import Rows, stored_rows

LONG = "y" * 25_000
"""More than any field takes."""
TAKEN = {200, 201, 302}


kept = kept_rows(make_furnished)


@pytest.fixture
def furnished(db: None, kept: Kept[Furnished], media: Path) -> Furnished:
    return kept.taken(media)


@pytest.fixture
def cast(furnished: Furnished) -> Cast:
    return furnished.cast


def _rows() -> Rows:
    """Return every row there is, apart from when somebody was last seen."""
    return stored_rows(but={"last_login", "last_used_at", "password"})


@pytest.fixture
def owner(furnished: Furnished, client_for: Callable[[Member], Client]) -> Client:
    """The owner's browser: an owner may send every form."""
    return client_for(furnished.cast.owner)


@cache
def _addresses(shop: Furnished) -> dict[str, str]:
    """Return the addresses; the capture of the pages is the one with a result."""
    found = shop.addresses()
    found["people:member"] = reverse("people:member", args=[shop.cast.mechanic.pk])
    return found


def test_each_form_has_a_case(furnished: Furnished, owner: Client):
    """A new form cannot slip through."""
    takes = set()
    for name, address in _addresses(furnished).items():
        if name.startswith("api:"):
            continue
        with transaction.atomic():
            if owner.post(address).status_code != 405:
                takes.add(name)
            transaction.set_rollback(True)
        if name == "people:sign-out":
            owner.force_login(furnished.cast.owner.user)
    assert takes - set(OTHERS) == set(CASES)


def _form(owner: Client, addresses: dict[str, str], name: str) -> PageForm:
    """Return a form as it stands on a fresh page."""
    case = CASES[name]
    if not case.page:
        return PageForm(addresses[name])
    address = addresses[case.page]
    page = owner.get(address)
    assert page.status_code == 200, (name, page.status_code)
    found = [form for form in forms_to(page, address, name) if case.picks(form)]
    assert found, f"{name}: no such form on {case.page}"
    return found[0]


def _send(owner: Client, form: PageForm, case: Case, typed: Typed) -> HttpResponse:
    sent = case.files(filled(form, typed))
    return owner.post(form.action, sent)  # type: ignore[return-value]


MEANT_AGAIN = {
    "traces:setup": "an analysis of the same set-up changes no result",
    "traces:by-hand": "an analysis of the same set-up changes no result",
    "traces:file": "a file read the same way once more is the same reading",
    "traces:file-take-again": "the page then offers the other reading",
    "jobs:capture-aside": "the page then offers to take it in again",
    "jobs:capture-purpose": "the page then offers the other one",
    "jobs:move": "the page then offers other stages",
}
"""Forms that a fresh page sends to another end, or whose second row says nothing new."""
GONE_AFTERWARDS = {
    "practice:exercise",
    "practice:home",
    "jobs:photo-remove",
    "jobs:question-answer",
    "jobs:work-order-new",
    "jobs:work-order-withdraw",
    "jobs:work-order-complete",
}
"""Forms that a fresh page no longer offers: what they do is done once."""
ASKED = {
    "jobs:new",
    "jobs:misfires-set",
    "jobs:note-add",
    "jobs:used-add",
    "jobs:numbering",
    "jobs:decide",
    "jobs:consent-add",
    "jobs:finding-add",
    "jobs:question-ask",
    "jobs:swap-add",
    "traces:note-pin",
    "people:tokens",
    "people:invitations",
}
"""Forms that ask whether the same is meant once more."""


@pytest.mark.parametrize("name", CASES)
def test_sent_again_it_records_once(furnished: Furnished, owner: Client, name: str):
    case = CASES[name]
    if case.before:
        case.before(furnished)
    addresses = _addresses(furnished)
    form = _form(owner, addresses, name)
    before = _rows()
    if case.page:
        _assert_too_long_a_text_is_told_and_shown_again(owner, form, case, before)
    assert _send(owner, form, case, dict(case.typed)).status_code in TAKEN
    case.between()
    once = _rows()
    if name not in {"people:password", "people:member-password"}:
        assert once != before
    _send(owner, form, case, case.typed)
    assert _changed(once, _rows()) == set()
    if case.page:
        with transaction.atomic():
            _assert_the_same_words_on_a_fresh_page_add_nothing(owner, addresses, name, once)
            transaction.set_rollback(True)
    if case.then is None:
        return
    other = _form(owner, addresses, name)
    assert _send(owner, other, case, case.then).status_code in TAKEN
    case.between()
    after = _rows()
    assert after != once
    _send(owner, form, case, case.typed)
    assert _changed(after, _rows()) == set()


def _assert_the_same_words_on_a_fresh_page_add_nothing(
    owner: Client, addresses: dict[str, str], name: str, once: Rows
) -> None:
    case = CASES[name]
    address = addresses[case.page]
    fresh = [f for f in forms_to(owner.get(address), address, name) if case.picks(f)]
    assert bool(fresh) is (name not in GONE_AFTERWARDS)
    if name in MEANT_AGAIN or not fresh:
        return
    answer = _send(owner, fresh[0], case, dict(case.typed))
    assert _rows().keys() == once.keys()
    assert (answer.status_code == 422 and "confirmed" in _asked(answer)) is (name in ASKED)
    if name in ASKED:
        (asked, *_) = [f for f in forms_on(answer, fresh[0].action) if "confirmed" in f.names]
        assert _send(owner, asked, case, {"confirmed": "on"}).status_code in TAKEN
        assert _rows().keys() > once.keys()


def _asked(answer: Any) -> set[str]:
    """Return the names of the boxes on a page that nobody has ticked."""
    forms = forms_on(answer, "")
    return {name for form in forms for name in form.names if name not in form.sent}


def _changed(before: dict[Any, Any], after: dict[Any, Any]) -> set[Any]:
    return {key for key in before.keys() | after.keys() if before.get(key) != after.get(key)}


def _assert_too_long_a_text_is_told_and_shown_again(
    owner: Client, form: PageForm, case: Case, before: Rows
) -> None:
    """One alone, with what else was typed; then all at once, each of which has to be told."""
    assert form.cut_by_browser == set()
    texts = [text for text in form.texts if text not in case.unasked]
    for long in filter(None, (texts[:1], texts if texts[1:] else [])):
        answer = _send(owner, form, case, dict(case.typed) | dict.fromkeys(long, LONG))
        assert answer.status_code == 422, long
        assert _changed(before, _rows()) == set(), long
        (again, *_) = [
            f for f in forms_on(answer, form.action) if long[0] in f.names and case.picks(f)
        ]
        if len(long) > 1:
            assert set(long) <= again.refused, set(long) - again.refused
        for text in long:
            assert again.sent[text] == [LONG], text
        for other, value in case.typed.items():
            if other in form.texts and other not in long:
                assert again.sent[other] == [value], (long, other)
