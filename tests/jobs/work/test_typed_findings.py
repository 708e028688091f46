"""Tests beyond compression on an order: recorded with figures, judged, asked back, shown."""

from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.models import CylinderFinding, Judgement, TimelineEvent
from jobs.selectors.findings import current_findings, finding_words
from jobs.selectors.sheet import lines_by_test
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.work import work_order_create
from tests.jobs.work.conftest import make_run


@pytest.fixture
def order(triaged, by):
    run = make_run(by, triaged, dict.fromkeys((1, 2, 3, 4), 1.0))
    signed = judgement_sign(
        visit=triaged,
        member=by,
        kind=Judgement.Kind.OVERRULED,
        mechanical="no",
        fault_group="fuel",
        run=run,
        cylinders=[3],
        reason="Even, and it misfires.",
    )
    return work_order_create(judgement=signed, member=by)


@pytest.fixture
def mechanic(cast):
    return cast.mechanic


@pytest.fixture
def mechanics_browser(client_for, mechanic):
    return client_for(mechanic)


def typed(test, *, seen="", token=None, scope="cylinder", conditions="", **rows):
    """Return a table as it is sent; a row is `r3={"drop_kpa": "99", "outcome": "bad"}`."""
    sent = {"form_token": str(token or uuid4()), "test": test, "seen": seen}
    sent["conditions"] = conditions
    for name, values in rows.items():
        sent |= {f"{scope}_{name[1:]}_{key}": value for key, value in values.items()}
    return sent


def table_of(answer, test):
    return next(s.table for s in answer.context["steps"] if s.item.anchor == f"test-{test}")


def kept(test):
    rows = CylinderFinding.objects.filter(replaced_by=None, test=test).order_by("cylinder", "bank")
    return [(f.cylinder or f.bank, f.figures, f.outcome) for f in rows]


# A published injector balance: drops of 99, 69, 39 and 62 kPa, 20 kPa from their mean allowed.
DROPS = {"r1": "99", "r2": "69", "r3": "39", "r4": "62"}


def test_the_balance_proposes_and_keeps_what_was_agreed(mechanics_browser, order):
    address = reverse("jobs:readings-add", args=[order.pk])
    bare = {row: {"drop_kpa": value} for row, value in DROPS.items()}
    answer = mechanics_browser.post(address, typed("injector", **bare))
    assert answer.status_code == 422
    assert not CylinderFinding.objects.exists()
    table = table_of(answer, "injector")
    assert table.numbers == [3, 1, 2, 4]
    proposed = {row.number: row.outcome.value() for row in table.rows}
    assert proposed == {1: "bad", 2: "good", 3: "bad", 4: "good"}
    agreed = {row: values | {"outcome": proposed[int(row[1:])]} for row, values in bare.items()}
    assert mechanics_browser.post(address, typed("injector", **agreed)).status_code == 302
    assert kept("injector") == [
        (1, {"drop_kpa": 99.0}, "bad"),
        (2, {"drop_kpa": 69.0}, "good"),
        (3, {"drop_kpa": 39.0}, "bad"),
        (4, {"drop_kpa": 62.0}, "good"),
    ]
    assert TimelineEvent.objects.filter(kind="finding").count() == 4


def test_an_outcome_against_the_rule_is_asked_back_and_kept_once_confirmed(order, mechanic):
    found = NewFinding(2, "wiring", "good", figures={"supply_drop_v": 1.4})
    with pytest.raises(ValidationError) as error:
        finding_add(order=order, member=mechanic, found=found)
    assert set(error.value.message_dict) == {"confirmed"}
    finding_add(
        order=order,
        member=mechanic,
        found=NewFinding(2, "wiring", "good", figures={"supply_drop_v": 1.4}, confirmed=True),
    )
    assert kept("wiring") == [(2, {"supply_drop_v": 1.4}, "good")]


def test_a_later_reading_that_makes_an_earlier_one_odd_is_asked_about(order, mechanic):
    for cylinder, ohm in ((1, 0.90), (2, 0.70)):
        finding_add(
            order=order,
            member=mechanic,
            found=NewFinding(cylinder, "coil", "good", figures={"primary_ohm": ohm}),
        )
    with pytest.raises(ValidationError) as error:
        finding_add(
            order=order,
            member=mechanic,
            found=NewFinding(3, "coil", "good", figures={"primary_ohm": 0.71}),
        )
    assert len(error.value.message_dict["confirmed"]) == 1


def test_trims_are_kept_by_bank(mechanics_browser, order):
    address = reverse("jobs:readings-add", args=[order.pk])
    rows = {
        "r1": {
            "idle_short_percent": "6,5",
            "idle_long_percent": "12",
            "fast_short_percent": "1",
            "fast_long_percent": "2",
            "outcome": "bad",
        }
    }
    sent = typed("trims", scope="bank", **rows)
    for _ in range(2):
        assert mechanics_browser.post(address, sent).status_code == 302
    ((bank, figures, outcome),) = kept("trims")
    assert (bank, figures["idle_short_percent"], outcome) == (1, 6.5, "bad")
    (finding,) = current_findings(order)
    assert (finding.cylinder, finding.bank) == (None, 1)
    # the second bank waits behind a tick on an engine with one row
    page = mechanics_browser.get(reverse("jobs:work-order", args=[order.pk]))
    rest = {row.number: row.is_rest for row in table_of(page, "trims").rows}
    assert rest == {1: False, 2: True}


def test_figures_of_the_engine_have_one_row(mechanics_browser, order, cast):
    cast.shop.pressure_unit = "bar"
    cast.shop.save()
    address = reverse("jobs:readings-add", args=[order.pk])
    values = {"rest_kpa": "3.5", "load_kpa": "3.4", "outcome": "good"}
    assert (
        mechanics_browser.post(address, typed("fuel_press", scope="engine", r0=values)).status_code
        == 302
    )
    finding = CylinderFinding.objects.get()
    assert finding.figures == pytest.approx({"rest_kpa": 350.0, "load_kpa": 340.0})
    assert (finding.cylinder, finding.bank) == (None, None)
    seen = f"0:{finding.pk}"
    again = typed("fuel_press", scope="engine", seen=seen, r0=values | {"load_kpa": "3.3"})
    assert mechanics_browser.post(address, again).status_code == 302
    newest = CylinderFinding.objects.get(replaces=finding)
    assert newest.figures == pytest.approx({"rest_kpa": 350.0, "load_kpa": 330.0})


def test_a_correction_of_one_figure_leaves_the_others_to_the_last_digit(
    mechanics_browser, order, mechanic, cast
):
    cast.shop.pressure_unit = "psi"
    cast.shop.save()
    first = finding_add(
        order=order,
        member=mechanic,
        found=NewFinding(None, "fuel_press", "good", figures={"rest_kpa": 351.7, "load_kpa": 340}),
    )
    shown = mechanics_browser.get(
        reverse("jobs:finding-add", args=[order.pk]), {"replaces": first.pk}
    ).context["form"]
    assert shown["rest_kpa"].value() == 51.0
    sent = {
        "form_token": str(uuid4()),
        "replaces": first.pk,
        "test": "fuel_press",
        "outcome": "good",
        "rest_kpa": "51",
        "load_kpa": "50",
    }
    address = reverse("jobs:finding-add", args=[order.pk])
    assert mechanics_browser.post(address, sent).status_code == 302
    assert CylinderFinding.objects.get(replaces=first).figures == pytest.approx(
        {"rest_kpa": 351.7, "load_kpa": 50 * 6.894757}
    )


@pytest.mark.parametrize(
    ("found", "field"),
    [
        (NewFinding(2, "coil", "good"), "words"),
        (NewFinding(2, "coil", "not_done"), "words"),
        (NewFinding(2, "coil", "good", figures={"primary_ohm": 900.0}), "primary_ohm"),
        (NewFinding(2, "coil", "good", figures={"drop_kpa": 60.0}), "drop_kpa"),
        (NewFinding(2, "gauge_dry", "good", 1000.0, figures={"drop_kpa": 60.0}), "drop_kpa"),
        (NewFinding(None, "trims", "good", figures={"idle_short_percent": 1.0}), "bank"),
        (NewFinding(None, "trims", "good", bank=3, figures={"idle_short_percent": 1.0}), "bank"),
        (NewFinding(7, "coil", "good", figures={"primary_ohm": 0.7}), "cylinder"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(order, mechanic, found, field):
    with pytest.raises(ValidationError) as error:
        finding_add(order=order, member=mechanic, found=found)
    assert set(error.value.message_dict) == {field}
    assert not CylinderFinding.objects.exists()


def test_bad_figures_keep_what_was_typed(mechanics_browser, order):
    address = reverse("jobs:readings-add", args=[order.pk])
    rows = {"r3": {"resistance_ohm": "abc", "peak_a": "4"}, "r1": {"resistance_ohm": "99999"}}
    answer = mechanics_browser.post(address, typed("injector", **rows))
    assert answer.status_code == 422
    table = table_of(answer, "injector")
    assert table["cylinder_3_resistance_ohm"].value() == "abc"
    assert {"cylinder_3_resistance_ohm", "cylinder_1_resistance_ohm"} <= set(table.errors)


def test_not_done_says_why_and_takes_no_figures(mechanics_browser, order):
    address = reverse("jobs:readings-add", args=[order.pk])
    beside = {"r3": {"peak_a": "4", "outcome": "not_done", "words": "No clamp."}}
    assert mechanics_browser.post(address, typed("injector", **beside)).status_code == 422
    silent = {"r3": {"outcome": "not_done"}}
    assert mechanics_browser.post(address, typed("injector", **silent)).status_code == 422
    said = {"r3": {"outcome": "not_done", "words": "No clamp."}}
    assert mechanics_browser.post(address, typed("injector", **said)).status_code == 302
    assert kept("injector") == [(3, None, "not_done")]
    # measured later: one row stands, the reason goes behind it
    finding_add(
        order=order,
        member=order.created_by,
        found=NewFinding(3, "injector", "good", figures={"peak_a": 4.0}),
    )
    (standing,) = current_findings(order)
    assert (standing.outcome, len(standing.repeats)) == ("good", 1)


def test_counts_are_kept_by_cylinder_or_in_words(order, mechanic):
    for cylinder, count in ((1, 0), (2, 3), (3, 143), (4, 1)):
        finding_add(
            order=order,
            member=mechanic,
            found=NewFinding(
                cylinder,
                "counts",
                "bad" if count > 100 else "good",
                figures={"misfires": count},
                conditions="12 km",
            ),
        )
    found = NewFinding(None, "counts", "bad", words="214 on 12 km.")
    finding_add(order=order, member=mechanic, found=found)
    assert {row: figures for row, figures, _ in kept("counts")} == {
        None: None,
        1: {"misfires": 0.0},
        2: {"misfires": 3.0},
        3: {"misfires": 143.0},
        4: {"misfires": 1.0},
    }


def test_figures_stand_in_lines_and_on_the_sheet(order, mechanic):
    finding_add(
        order=order,
        member=mechanic,
        found=NewFinding(3, "injector", "bad", figures={"drop_kpa": 39.0, "resistance_ohm": 12.5}),
    )
    finding_add(
        order=order,
        member=mechanic,
        found=NewFinding(None, "trims", "good", bank=2, figures={"idle_short_percent": -3.0}),
    )
    findings = current_findings(order)
    lines = [finding_words(f, "kPa") for f in findings]
    assert any("12.5 Ω" in line and "39 kPa" in line for line in lines)
    assert any("bank 2" in line and "−3 %" in line for line in lines)
    sheet = {(row.test, row.cylinder) for row in lines_by_test(order, findings, "kPa") if row.words}
    label = CylinderFinding.Test
    assert (str(label.INJECTOR.label), "3") in sheet
    assert (str(label.TRIMS.label), "bank 2") in sheet
