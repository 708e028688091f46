"""The work order prints on one sheet, A4 and Letter, whatever was written; nothing vital is cut."""

from io import BytesIO
from unicodedata import normalize

import pytest
from django.urls import reverse
from pypdf import PdfReader

from engines.core.firing import FiringOrder
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, places_by_numbering
from engines.services import EngineInput, engine_create
from jobs.models import Outcome
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.triage import codes_add, triage_change, triage_of
from jobs.services.work import OrderWords, work_order_create
from tests.wording import says

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

LONG = "The customer wants a call before anything at all is taken apart. "
FORMATS = ["A4", "Letter"]
# Paper less margins of 12 mm, at 96 pixels an inch.
WIDTH_PX = {"A4": 703, "Letter": 725}


@pytest.fixture
def eight(cast):
    order = FiringOrder.parse("1-8-4-3-6-5-7-2", None)
    return engine_create(
        member=cast.diagnostician,
        given=EngineInput(
            name="Eight with a name that goes on and on for the sheet",
            layout="V8",
            order=order,
            places=places_by_numbering(layout_of("V8"), 8, Numbering.ALTERNATING),
            numbering=LONG * 4,
            fuel="diesel",
            source=LONG * 4,
        ),
    )


@pytest.fixture
def crowded(cast, take_in, eight, run_of, by):
    """A work order with everything as long as it may be."""
    visit = take_in(
        cast.writer,
        engine=eight,
        drive="belt",
        make="Long Orchard Carriages",
        model="Estate Wagon Extended Wheelbase",
        vin="1M8GDM9AXKP042788",
        odometer=1234567,
        words=LONG * 10,
    )
    visit.vehicle.engine_code = "OE-18-LONG-CODE"
    visit.vehicle.save()
    triage = triage_of(visit=visit)
    triage.cranks, triage.battery_v = "uneven", 12.4
    triage_change(triage=triage, expected_version=triage.version, member=by)
    codes_add(visit=visit, text=" ".join(f"P030{n} stored" for n in range(9)), member=by)
    figures = {1: 0.5, 2: 0.55, 3: 1.0, 4: 0.6, 5: 1.4, 6: 1.0, 7: 0.7, 8: 1.0}
    judgement = judgement_sign(
        visit=visit,
        member=by,
        kind="overruled",
        mechanical="yes",
        run=run_of(visit, figures, fuel="diesel"),
        cylinders=[1, 2, 4, 7],
        reason=LONG * 10,
    )
    order = work_order_create(
        judgement=judgement,
        member=by,
        words=OrderWords(
            request=(LONG * 4)[:200],
            scope=(LONG * 20)[:1000],
            scope_minutes=240,
            stop_and_call=(LONG * 6)[:300],
        ),
    )
    for cylinder in range(1, 9):
        for found in (
            NewFinding(cylinder, "gauge_dry", "bad", 2000 + cylinder, words=LONG * 3),
            NewFinding(cylinder, "leak_down", "not_done", words="No time."),
            NewFinding(cylinder, "borescope", "ambiguous", words=LONG),
        ):
            finding_add(order=order, member=cast.mechanic, found=found)
    return order


@pytest.fixture
def printed(signed_in_page, cast):
    """Return the pages' texts and the size of each page, as printed."""

    def go(address, paper, member=None):
        page, complaints = signed_in_page(member or cast.diagnostician, keep=True)
        page.goto(address)
        page.wait_for_load_state("networkidle")
        reader = PdfReader(BytesIO(page.pdf(format=paper, print_background=True)))
        page.emulate_media(media="print")
        page.set_viewport_size({"width": WIDTH_PX[paper], "height": 960})
        cut = page.evaluate(
            """() => {
              const sheet = document.querySelector(".sheet");
              return [sheet.scrollWidth - sheet.clientWidth,
                      sheet.scrollHeight - sheet.clientHeight];
            }"""
        )
        assert cut == [0, 0]
        assert list(complaints) == []
        # Ligatures of the font come back as one character.
        texts = [normalize("NFKC", p.extract_text()) for p in reader.pages]
        return [" ".join(text.split()) for text in texts]

    return go


@pytest.mark.parametrize("paper", FORMATS)
def test_a_plain_order_is_one_sheet(printed, order, paper):
    (text,) = printed(reverse("jobs:work-order-print", args=[order.pk]), paper)
    assert says(text, "request.find-why-low", cylinders="cylinder 3")
    assert says(text, "positions.third-from-front")
    assert "1-3-4-2" in text
    # what the columns cannot hold gives way in the picture, never in these
    assert says(text, "work.stop-call-when")
    assert says(text, "order_draft.authorised-time-used-up")
    assert says(text, "request.settled-sync-holds-if")
    assert says(text, "jobs/wanted_tests:leak.words")
    assert says(text, "traces/cautions:defer.text")
    assert says(text, "order_sheet.signed-verdict", name="Dana Diag")


@pytest.mark.parametrize("paper", FORMATS)
def test_eight_cylinders_four_suspects_and_long_words_are_one_sheet(printed, crowded, paper):
    (text,) = printed(reverse("jobs:work-order-print", args=[crowded.pk]), paper)
    assert "1-8-4-3-6-5-7-2" in text
    # Nothing vital is cut at the foot: all tests, all cautions, the line to sign.
    assert says(text, "jobs/wanted_tests:stop_high.words")
    assert "240 minutes" in text
    assert " ".join(crowded.stop_and_call.split()) in text
    assert says(text, "order_sheet.rest-stands-order-screen")
    assert says(text, "request.named-diagnostician-against-capture")
    assert says(text, "jobs/wanted_tests:scope.words")
    assert "orange cables" in text
    assert says(text, "traces/cautions:battery_gas.text")
    assert says(text, "order_sheet.signed-verdict", name="Dana Diag")
    for cylinder in range(1, 9):
        assert f"{2000 + cylinder}, bad" in text
    assert text.count("not done") == 8
    assert text.count("Borescope: ambiguous") == 8


def test_a_later_verdict_stands_on_a_crowded_sheet(printed, crowded, by):
    judgement_sign(
        visit=crowded.visit,
        member=by,
        kind="without",
        mechanical="yes",
        cylinders=[3, 5, 6, 8],
        reason=LONG,
    )
    (text,) = printed(reverse("jobs:work-order-print", args=[crowded.pk]), "A4")
    assert "▲ Stop." in text
    assert "cylinders 3, 5, 6 and 8" in text
    assert says(text, "order_sheet.signed-verdict", name="Dana Diag")


@pytest.mark.parametrize("paper", FORMATS)
def test_the_customers_sheet_is_one_page(printed, order, run_of, cast, paper):
    run_of(order.visit, dict.fromkeys((1, 2, 3, 4), 1.0), purpose="verification")
    Outcome.objects.create(
        visit=order.visit,
        cause="Exhaust valve burnt. " * 6,
        correction="Valve replaced. " * 6,
        verified="yes",
        verified_how="Second capture.",
        told_customer="One valve was burnt. " * 8,
    )
    address = reverse("jobs:customer-copy", args=[order.visit_id])
    (text,) = printed(address, paper, cast.writer)
    assert says(text, "customer_sheet.what-you-told-us")
    assert says(text, "customer_sheet.what-not-known")
    assert "Print this sheet" not in text
