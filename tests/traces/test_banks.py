"""Bank against bank from the engine's places to the page, the paper's words and the API."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from engines.core.layouts import layout_of
from engines.core.positions import Numbering, bank_labels, places_by_numbering
from engines.models import Engine, positions_json
from tests.conftest import Cast
from tests.traces.judged_runs import judged_run
from tests.traces.setup_form import filled_in
from tests.wording import says
from traces.core.report.bank_results import BankDifference, BankMean
from traces.core.report.bank_words import ONE_OF_TWO, bank_line, weaker_cylinders
from traces.core.report.reading_aid import _even
from traces.core.report.results import Estimate, Report
from traces.core.report.wording import verdict_words
from traces.core.setup.analysis_setup import AnalysisSetup, SyncSetup
from traces.models import Capture, Run

BANKS = ((1, 3, 5), (2, 4, 6))


@pytest.fixture
def vee(db: None) -> Engine:
    places = places_by_numbering(layout_of("V6"), 6, Numbering.ALTERNATING)
    return Engine.objects.create(
        key="test-vee-six",
        name="Vee six",
        layout="V6",
        firing_order="1-2-3-4-5-6",
        positions=positions_json(places),
        source="invented for this test",
    )


def report(call: str = "uneven", points: float = 12.0) -> Report:
    relative = {c: 1.0 - points / 100 if c % 2 == 0 else 1.0 for c in range(1, 7)}
    return Report(
        verdict="even",
        estimates=tuple(
            Estimate(c, c, relative[c], relative[c] - 0.02, relative[c] + 0.02, "sound")
            for c in range(1, 7)
        ),
        candidates=((),),
        cylinders_known=True,
        cranking_rpm=210.0,
        cycles=6,
        banks=(BankMean(BANKS[0], 1.0, 0.98, 1.02), BankMean(BANKS[1], 0.88, 0.86, 0.9)),
        bank_difference=BankDifference(points, 8.0, 16.0, BANKS[1], call),  # type: ignore[arg-type]
    )


def _page(client_for: Callable[..., Client], cast: Cast, run: Run) -> str:
    address = reverse("traces:capture", args=[run.capture_id])
    return client_for(cast.diagnostician).get(address).content.decode()


def test_the_bank_of_cylinder_one_is_bank_one() -> None:
    assert bank_labels(BANKS) == ("bank A (bank 1)", "bank B (bank 2)")
    assert bank_labels(BANKS[::-1]) == ("bank A (bank 2)", "bank B (bank 1)")
    assert bank_labels(((1,), (2,), (3,))) == ("bank A", "bank B", "bank C")


def test_an_even_verdict_with_a_weaker_bank_says_so() -> None:
    assert says(verdict_words(report()), "wording.but-weaker-whole", bank="bank B (bank 2)")
    assert "bank B (bank 2)" in bank_line(report())
    assert "bank" not in verdict_words(report("even", 1.0))
    assert bank_line(Report(verdict="even")) == ""
    assert "by 1 point (" in bank_line(report("even", 1.0))
    assert "by 2 points (" in bank_line(report("even", 2.0))


def test_the_form_takes_the_banks_from_the_engine(
    add_read: Callable[..., Capture], cast: Cast, engine: Engine, vee: Engine
) -> None:
    reading = add_read().reading
    for chosen, banks in ((engine, None), (vee, BANKS)):
        form = filled_in(reading, cast.diagnostician, chosen)
        assert form.is_valid(), form.errors
        assert form.given.analysis.banks == banks


def test_places_that_cannot_be_read_are_no_banks(vee: Engine) -> None:
    vee.positions = [{"cylinder": 1}]
    assert vee.banks is None


@pytest.mark.parametrize("call", ["uneven", "even"])
def test_the_page_holds_one_bank_against_the_other(
    add_read: Callable[..., Capture],
    cast: Cast,
    vee: Engine,
    client_for: Callable[..., Client],
    call: str,
) -> None:
    setup = AnalysisSetup(vee.order, "clamp", 10.0, SyncSetup("coil", 1), banks=BANKS)
    run = judged_run(add_read, cast.diagnostician, (report(call), setup, ()), vee)
    page = _page(client_for, cast, run)
    assert 'id="bank-bars"' in page
    assert page.count("bank B (bank 2)") >= 2
    uneven = call == "uneven"
    assert says(page, "bank_words.cam-timing-one-two") is uneven
    assert ("url(#bank-bars-wide)" in page) is uneven


def test_a_result_from_before_has_no_banks(
    add_read: Callable[..., Capture], cast: Cast, vee: Engine, client_for: Callable[..., Client]
) -> None:
    setup = AnalysisSetup(vee.order, "clamp", 10.0, SyncSetup("coil", 1))
    run = judged_run(add_read, cast.diagnostician, (report(), setup, ()), vee)
    before = dict(run.result or {})
    Run.objects.filter(pk=run.pk).update(
        result={k: v for k, v in before.items() if k not in {"banks", "bank_difference"}}
    )
    page = _page(client_for, cast, run)
    assert 'id="bank-bars"' not in page


def test_a_low_cylinder_alone_on_its_bank_is_no_weaker_bank() -> None:
    low = replace(
        report(),
        verdict="uneven",
        estimates=(
            Estimate(1, 1, 0.5, 0.4, 0.6, "suspect"),
            Estimate(2, 2, 1.0, 0.9, 1.1, "sound"),
        ),
        candidates=((1,),),
        banks=(BankMean((1,), 0.5, 0.4, 0.6), BankMean((2,), 1.0, 0.9, 1.1)),
        bank_difference=BankDifference(50.0, 40.0, 60.0, (1,), "uneven"),
    )
    assert weaker_cylinders(low) == ()
    assert "bank" not in verdict_words(low)
    assert str(ONE_OF_TWO) not in bank_line(low)
    # low by less than what makes a cylinder low: only the banks tell
    watched = replace(
        low,
        verdict="even",
        estimates=(replace(low.estimates[0], relative=0.85, call="watch"), low.estimates[1]),
        candidates=((),),
    )
    assert weaker_cylinders(watched) == (1,)


def test_the_reading_aid_does_not_call_a_weaker_bank_even() -> None:
    def aid(of: Report) -> str:
        return " ".join(_even(of).sentences)

    assert "bank B (bank 2)" in aid(report())
    assert "bank B" not in aid(report("even", 1.0))
