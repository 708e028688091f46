"""Odometer, minutes, amounts and counts that are asked back; no database."""

from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils.formats import get_format
from django.utils.translation import override

from jobs.core.amounts import amount_read, amount_written
from jobs.core.authorised import (
    USUAL_DIAGNOSIS,
    USUAL_REPAIR,
    USUAL_REPAIR_MINUTES,
    doubts_about_amount,
    doubts_about_minutes,
    order_minutes_words,
)
from jobs.core.misfires import (
    doubts_about_counts,
    doubts_about_proof,
    doubts_about_same,
    doubts_beside_card,
)
from jobs.core.odometer import doubts_about_odometer
from jobs.forms.used import UsedForm
from tests.wording import named, says_only


@pytest.mark.parametrize(
    ("reading", "beside", "asked"),
    [
        (84_200, {}, False),
        (842_000, {}, False),
        (1_842_000, {}, True),
        (85_000, {"last": 84_200, "years_since": 0.1}, False),
        (84_200, {"last": 84_200}, False),
        (84_199, {"last": 84_200}, True),
        (8_500, {"last": 84_200, "years_since": 0.1}, True),
        (850_000, {"last": 84_200, "years_since": 0.1}, True),
        (30_100, {"last": 3_000, "years_since": 0.1}, True),
        (200_000, {"last": 84_200, "years_since": 2.0}, False),
        # a clock that stepped back makes no time negative
        (90_000, {"last": 84_200, "years_since": -3.0}, False),
        (84_200, {"age_years": 6}, False),
        (8_420, {"age_years": 6}, True),
        (842_000, {"age_years": 6}, True),
        (20, {"age_years": 0}, False),
        (20, {"age_years": -1}, False),
        (8_420, {"age_years": 40}, False),
        # what is known from before weighs more than the year
        (8_600, {"last": 8_420, "years_since": 0.1, "age_years": 6}, False),
    ],
)
def test_odometer(reading, beside, asked):
    assert bool(doubts_about_odometer(reading, unit="km", **beside)) is asked


def test_an_odometer_in_miles_has_the_same_limits():
    assert not doubts_about_odometer(30_000, unit="km", last=1_000, years_since=0.25)
    assert doubts_about_odometer(30_000, unit="mi", last=1_000, years_since=0.25)


@pytest.mark.parametrize(
    ("minutes", "authorised", "asked"),
    [
        (90, None, False),
        (900, None, True),
        (9, None, True),
        (2, None, True),
        (0, None, True),
        (10, None, False),
        (300, None, False),
        (301, None, True),
        (30, 90, False),
        (200, 30, True),
        (20, 200, True),
        # asked back when the customer's were typed
        (900, 900, False),
        # any more than authorised needs a call
        (91, 90, True),
        (89, 90, False),
    ],
)
def test_minutes(minutes, authorised, asked):
    assert bool(doubts_about_minutes(minutes, authorised=authorised)) is asked


@pytest.mark.parametrize(
    ("minutes", "asked"), [(9, True), (10, False), (600, False), (2400, False), (2401, True)]
)
def test_minutes_of_a_repair(minutes, asked):
    assert bool(doubts_about_minutes(minutes, usual=USUAL_REPAIR_MINUTES)) is asked


@pytest.mark.parametrize(
    ("minutes", "authorised", "is_repair", "words"),
    [
        (60, 60, False, named("authorised.minutes", minutes=60)),
        (45, 60, False, named("authorised.minutes", minutes=45)),
        (90, 60, False, named("authorised.minutes-planned-call-before", authorised=60, minutes=90)),
        (90, None, False, named("authorised.no-time-noted-minutes", minutes=90)),
        (None, 60, False, named("authorised.time-not-noted-ask")),
        (240, None, True, named("authorised.minutes-planned-agreed-repair", minutes=240)),
        (
            240,
            60,
            True,
            named("authorised.minutes-planned-call-before", authorised=60, minutes=240),
        ),
    ],
)
def test_only_authorised_minutes_read_so(minutes, authorised, is_repair, words):
    assert says_only(order_minutes_words(minutes, authorised, is_repair=is_repair), words)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("250", 250.0),
        ("1,250", 1250.0),
        ("1.250,50", 1250.5),
        ("1 250.5 EUR", 1250.5),
        ("1'250", 1250.0),
        ("up to 300", 300.0),
        ("£260", 260.0),
        ("300 plus tax", None),
        ("12,5", 12.5),
        ("250 and 40 for parts", None),
        ("as agreed", None),
        ("1.900,00", 1900.0),
        ("1\xa0250,50 EUR", 1250.5),
        # a sum has no three decimals, and nothing is read past a slip
        ("0.125", None),
        ("12.34.5", None),
        ("1,250,50", None),
        ("-5", None),
        ("", None),
    ],
)
def test_how_an_amount_reads(text, value):
    assert amount_read(text) == value


@pytest.mark.parametrize(
    ("amount", "currency", "usual", "asked"),
    [
        ("150", "EUR", USUAL_DIAGNOSIS, False),
        ("1500", "EUR", USUAL_DIAGNOSIS, True),
        ("15", "EUR", USUAL_DIAGNOSIS, True),
        ("1500", "EUR", USUAL_REPAIR, False),
        ("15000", "USD", USUAL_REPAIR, True),
        ("15", "usd", USUAL_REPAIR, True),
        ("24000", "JPY", USUAL_DIAGNOSIS, False),
        ("240000", "JPY", USUAL_DIAGNOSIS, True),
        # the currency that was typed wins
        ("24000 JPY", "EUR", USUAL_DIAGNOSIS, False),
        ("24000", "XAU", USUAL_DIAGNOSIS, False),
        ("as agreed", "EUR", USUAL_DIAGNOSIS, False),
    ],
)
def test_amounts(amount, currency, usual, asked):
    assert bool(doubts_about_amount(amount, currency, usual=usual)) is asked


def test_counts():
    assert not doubts_about_counts([])
    assert not doubts_about_counts([0, 20_000])
    assert doubts_about_counts([0, 20_001])


@pytest.mark.parametrize(
    ("before", "after", "asked"),
    [
        (143, 150, False),
        (97, 941, True),
        (143, 500, False),
        (143, 1430, True),
        (143, 14, True),
        (3, 40, False),
        (143, 0, True),
    ],
)
def test_a_misfire_that_is_still_there_counts_alike(before, after, asked):
    assert bool(doubts_about_same(before, after)) is asked


@pytest.mark.parametrize(
    ("before", "after", "asked"),
    [
        (355, 300, True),
        (355, 178, True),
        (355, 177, False),
        (143, 2, False),
        (2, 1, False),
        (0, 0, False),
        (0, 1, True),
    ],
)
def test_misfires_that_hardly_became_fewer(before, after, asked):
    assert bool(doubts_about_proof(before, after)) is asked


@pytest.mark.parametrize(
    ("before", "card", "asked"),
    [
        (355, [{"1": 0, "3": 355}], False),
        (3550, [{"1": 0, "3": 355}], True),
        (35, [{"1": 0, "3": 355}], True),
        # of all cylinders, or of one
        (500, [{"1": 250, "3": 250}], False),
        (250, [{"1": 250, "3": 250}], False),
        # any of the readings will do, as those before the repair
        (355, [{"3": 355}, {"3": 2}], False),
        (3550, [{"3": 355}, {"3": 2}], True),
        # nothing to compare with
        (355, [{"1": 0, "3": 0}], False),
        (355, [], False),
        (30, [{"3": 3}], False),
    ],
)
def test_misfires_beside_those_on_the_card(before, card, asked):
    assert bool(doubts_beside_card(before, card)) is asked


@pytest.mark.parametrize(
    ("asked", "figures"),
    [
        (doubts_about_odometer(1_842_000, unit="km"), ["1,842,000 km"]),
        (doubts_about_odometer(1_000, unit="km", last=84_200), ["1,000 km", "84,200 km"]),
        (doubts_about_odometer(850_000, unit="km", last=84_200), ["765,800 km"]),
        (doubts_about_minutes(1_230, authorised=None), ["1,230 minutes"]),
        (doubts_about_minutes(1_300, authorised=1_200, usual=USUAL_REPAIR_MINUTES), ["1,200"]),
        (doubts_about_amount("1234000", "EUR", usual=USUAL_REPAIR), ["1,234,000 EUR"]),
        (doubts_about_amount("123400,5", "EUR", usual=USUAL_REPAIR), ["123,400.50 EUR"]),
        (doubts_about_counts([123_456]), ["123,456"]),
        (doubts_about_same(1_500, 20), ["1,500"]),
        (doubts_about_proof(1_500, 1_400), ["1,400", "1,500"]),
        (doubts_beside_card(50_000, [{"1": 1_250}]), ["50,000", "1,250"]),
    ],
)
def test_large_figures_are_asked_back_with_their_thousands_apart(asked, figures):
    told = " ".join(asked)
    assert [figure for figure in figures if figure not in told] == []


@pytest.mark.parametrize(
    ("language", "typed", "shown"),
    [
        ("en", "1.250,50 EUR", "1,250.50 EUR"),
        ("en", "up to 1250 EUR", "up to 1,250 EUR"),
        ("es", "1,250.50 EUR", "1|250,50 EUR"),
        ("es", "1.250 EUR", "1|250 EUR"),
        ("es", "250 and 40.50 for parts", "250 and 40.50 for parts"),
    ],
)
def test_an_amount_is_written_as_its_reader_does(language, typed, shown):
    with override(language):
        thousands = get_format("THOUSAND_SEPARATOR")
        assert amount_written(typed) == shown.replace("|", thousands)


@pytest.mark.parametrize(
    ("typed", "amount"),
    [
        ("1.900,00", "1900.00"),
        ("1,210", "1210.00"),
        ("12,5", "12.50"),
        ("0.125", None),
        ("-5", None),
        ("1e3", None),
    ],
)
def test_costs_of_parts_are_read_as_every_amount(typed, amount):
    form = UsedForm({"form_token": uuid4(), "amount": typed}, currency="EUR")
    assert form.is_valid() is (amount is not None)
    assert amount is None or form.used.amount == Decimal(amount)
