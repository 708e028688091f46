"""How long plugs take to reach is kept with an engine, by bank, for each shop."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from engines.models import BankAccess
from engines.selectors import access_minutes
from engines.services import access_keep
from shopdiag.people.core.roles import Role
from tests.api.conftest import api_for
from tests.wording import says

__all__ = ["api_for"]


@pytest.fixture
def six(library):
    return library["v6-1-4-3-6-2-5"]


@pytest.fixture
def browser(cast, client_for):
    return client_for(cast.diagnostician)


def test_minutes_of_a_bank_are_those_of_its_cylinders(cast, six, browser):
    address = reverse("engines:access", args=[six.pk])
    sent = {"minutes_a": "90", "minutes_b": "15", "note": "Intake manifold off."}
    assert browser.post(address, sent).status_code == 302
    by_bank = {"A": 90, "B": 15}
    assert access_minutes(cast.shop, six) == {c: by_bank[p.bank] for c, p in six.places.items()}
    page = browser.get(reverse("engines:detail", args=[six.pk])).content.decode()
    assert "90 min" in page
    assert page.count("Intake manifold off. ") == 1
    assert 'value="15"' in page


def test_one_row_has_one_figure_and_another_shop_its_own(cast, own, library):
    four = library["i4-1-3-4-2"]
    access_keep(member=cast.diagnostician, engine=four, minutes={"": 10})
    assert set(access_minutes(cast.shop, four).values()) == {10}
    assert access_minutes(cast.outsider.shop, four) == {}
    assert access_minutes(cast.shop, None) == {}


def test_the_newest_counts_and_the_same_again_is_no_line(cast, six):
    for minutes in (60, 60, 90):
        access_keep(member=cast.diagnostician, engine=six, minutes={"A": minutes})
    assert [row.minutes for row in BankAccess.objects.order_by("pk")] == [60, 90]
    assert set(access_minutes(cast.shop, six).values()) == {90}


def test_a_bank_that_the_engine_has_not_is_refused(cast, six):
    with pytest.raises(ValidationError) as refused:
        access_keep(member=cast.diagnostician, engine=six, minutes={"C": 5})
    assert says(refused.value, "engines-services.engine-no-bank", strange="C")
    assert not BankAccess.objects.exists()


@pytest.mark.parametrize("typed", ["-1", "1441", "soon"])
def test_minutes_that_cannot_be_are_shown_again(six, browser, typed):
    response = browser.post(reverse("engines:access", args=[six.pk]), {"minutes_a": typed})
    assert response.status_code == 422
    assert f'value="{typed}"' in response.content.decode()
    assert not BankAccess.objects.exists()


@pytest.mark.parametrize("role", list(Role))
def test_who_may(role, cast, client_for, six):
    response = client_for(cast.insiders[role]).post(
        reverse("engines:access", args=[six.pk]), {"minutes_a": "20"}
    )
    allowed = role in {Role.OWNER, Role.DIAGNOSTICIAN}
    assert response.status_code == (302 if allowed else 403)
    assert BankAccess.objects.exists() is allowed


def test_another_shops_engine_is_not_there(browser, theirs):
    response = browser.post(reverse("engines:access", args=[theirs.pk]), {"minutes": "20"})
    assert response.status_code == 404


def test_programs_keep_and_read_them_with_the_same_limits(cast, api_for, six, theirs):
    address = reverse("api:engine-access", args=[six.pk])
    api = api_for(cast.diagnostician)
    assert api.get(address).json() == []
    banks = [{"bank": "A", "minutes": 90}, {"bank": "b", "minutes": 15}]
    kept = api.post(address, {"banks": banks, "note": "Manifold off."})
    assert [(r["bank"], r["minutes"], r["note"]) for r in kept.json()] == [
        ("A", 90, "Manifold off."),
        ("B", 15, "Manifold off."),
    ]
    assert api.get(address).json() == kept.json()
    assert set(access_minutes(cast.shop, six).values()) == {90, 15}
    for minutes in (-1, 1441, "soon"):
        refused = api.post(address, {"banks": [{"bank": "A", "minutes": minutes}]})
        assert (refused.status_code, set(refused.json())) == (400, {"banks"})
    for banks in ([], [{"bank": "A", "minutes": 5}, {"bank": "A", "minutes": 6}]):
        assert set(api.post(address, {"banks": banks}).json()) == {"banks"}
    # a bank that the engine has not; a figure that is asked back
    assert api.post(address, {"banks": [{"bank": "C", "minutes": 5}]}).status_code == 400
    odd = {"banks": [{"bank": "A", "minutes": 900}]}
    assert set(api.post(address, odd).json()) == {"confirmed"}
    assert BankAccess.objects.count() == 2
    assert api.post(address, odd | {"confirmed": True}).status_code == 200
    assert set(access_minutes(cast.shop, six).values()) == {900, 15}
    # one bank in two spellings; nothing says which of the two counts
    twice = [{"bank": "A", "minutes": 90}, {"bank": "a", "minutes": 15}]
    refused = api.post(address, {"banks": twice})
    assert (refused.status_code, set(refused.json())) == (400, {"banks"})
    assert set(access_minutes(cast.shop, six).values()) == {900, 15}
    other = reverse("api:engine-access", args=[theirs.pk])
    assert api.get(other).status_code == 404


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ({}, {"A": "Manifold off.", "B": "Wiper tray off."}),
        ({"note": None}, {"A": "Manifold off.", "B": "Wiper tray off."}),
        ({"note": ""}, {"A": "", "B": ""}),
        ({"note": "Both off."}, {"A": "Both off.", "B": "Both off."}),
    ],
    ids=["left out", "null", "empty", "another"],
)
def test_a_note_that_was_not_sent_stays(cast, api_for, six, sent, kept):
    access_keep(member=cast.diagnostician, engine=six, minutes={"A": 90}, note="Manifold off.")
    access_keep(member=cast.diagnostician, engine=six, minutes={"B": 15}, note="Wiper tray off.")
    banks = [{"bank": "A", "minutes": 60}, {"bank": "B", "minutes": 20}]
    address = reverse("api:engine-access", args=[six.pk])
    answer = api_for(cast.diagnostician).post(address, {"banks": banks} | sent)
    assert {r["bank"]: (r["minutes"], r["note"]) for r in answer.json()} == {
        "A": (60, kept["A"]),
        "B": (20, kept["B"]),
    }
