"""Cranking by ear, codes, freeze frames and counts, as the diagnostician enters them."""

import pytest
from django.urls import reverse

from jobs.models import CodePaste, FreezeFrame, MisfireCounts, Triage, TroubleCode
from tests.wording import named, says, says_only


def at(name, visit, *more):
    return reverse(f"jobs:{name}", args=[visit.pk, *more])


@pytest.fixture
def client(cast, client_for):
    return client_for(cast.diagnostician)


def test_how_it_cranks_is_noted_and_carries_the_job_along(client, cast, visit):
    page = client.get(at("triage-edit", visit)).content.decode()
    assert "Parking brake" in page  # the cautions stand above the form
    response = client.post(
        at("triage-edit", visit),
        {"version": 1, "cranks": "uneven", "verified": "yes", "battery_v": "12.4"},
    )
    assert response.status_code == 302
    triage = Triage.objects.get(visit=visit)
    assert (triage.cranks, triage.verified, triage.battery_v) == ("uneven", "yes", 12.4)
    assert triage.changed_by == cast.diagnostician
    visit.refresh_from_db()
    assert visit.stage == "triage"
    assert [e.kind for e in visit.events.all()] == ["intake", "triage", "stage"]


@pytest.mark.parametrize("voltage", ["nan", "inf", "-1", "900", "twelve"])
def test_a_voltage_that_is_none_keeps_the_rest(client, visit, voltage):
    page = client.post(
        at("triage-edit", visit),
        {"version": 1, "cranks": "slow", "battery_v": voltage, "remarks": "sounds tired"},
    )
    assert page.status_code == 422
    assert "sounds tired" in page.content.decode()
    assert not Triage.objects.filter(visit=visit).exists()


PASTE = """Stored codes:
P0300 Random misfire
P0301\tCylinder 1
Pending: P0316
P03O2
and the driver says 2004 it shook"""


def test_pasted_codes_are_read_and_nothing_is_swallowed(client, cast, visit):
    response = client.post(at("codes-add", visit), {"text": PASTE}, follow=True)
    page = response.content.decode()
    paste = CodePaste.objects.get()
    assert paste.text == PASTE
    assert response.redirect_chain[-1][0] == at("codes-read", visit, paste.pk)
    assert list(TroubleCode.objects.values_list("code", "status", "cylinder")) == [
        ("P0300", "stored", None),
        ("P0301", "stored", 1),
        ("P0316", "pending", None),
    ]
    for words in (
        "Misfire on cylinder 1",
        "P03O2",
        "letter O",
        "Add P0302",
        "the driver says 2004",
    ):
        assert words in page
    (not_code,) = paste.not_codes
    assert says_only(not_code.pop("why"), "code_lookalikes.letter-digit-belongs", wrong="O")
    assert not_code == {"text": "P03O2", "line": "P03O2", "line_no": 5, "suggestion": "P0302"}
    visit.refresh_from_db()
    assert visit.stage == "triage"


def test_the_same_paste_twice_adds_nothing(client, visit):
    for _ in range(2):
        assert client.post(at("codes-add", visit), {"text": PASTE}).status_code == 302
    assert (CodePaste.objects.count(), TroubleCode.objects.count()) == (1, 3)
    assert [e.kind for e in visit.events.all()].count("codes") == 1


def test_a_code_stands_once_per_status_over_all_pastes(client, visit):
    for text in ("P0301", "P0301 stored", "P0301 pending", "again P0301", "P0301 confirmed"):
        client.post(at("codes-add", visit), {"text": text})
    assert list(TroubleCode.objects.values_list("status", flat=True)) == ["pending", "stored"]
    assert CodePaste.objects.count() == 5


def test_text_without_codes_is_kept_and_said(client, visit):
    page = client.post(at("codes-add", visit), {"text": "no idea"}, follow=True).content.decode()
    assert says(page, "codes_read.no-trouble-code-recognised")
    assert CodePaste.objects.get().text == "no idea"


@pytest.mark.parametrize(
    ("text", "sentence"), [("", "first"), ("  \n", "first"), ("x" * 20_001, "20000")]
)
def test_a_paste_that_cannot_be_kept_is_told(client, visit, text, sentence):
    page = client.post(at("codes-add", visit), {"text": text})
    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert not CodePaste.objects.exists()


def test_a_wrong_code_leaves_the_card_but_not_the_paste(client, visit):
    client.post(at("codes-add", visit), {"text": "P0301 stored"})
    code = TroubleCode.objects.get()
    for _ in range(2):  # a second press changes nothing more
        assert client.post(at("code-remove", visit, code.pk)).status_code == 302
    assert not TroubleCode.objects.exists()
    assert CodePaste.objects.get().text == "P0301 stored"
    removed = [e.data["removed"] for e in visit.events.all() if "removed" in e.data]
    assert removed == [["P0301", "stored"]]
    page = client.get(at("codes-read", visit, CodePaste.objects.get().pk)).content.decode()
    assert says(page, "codes_read.not-card")


def test_a_code_of_another_visit_is_not_taken_off(client, cast, visit, take_in):
    other = take_in(cast.writer)
    client.post(at("codes-add", other), {"text": "P0301 stored"})
    code = TroubleCode.objects.get()
    client.post(at("code-remove", visit, code.pk))
    assert TroubleCode.objects.exists()
    paste = CodePaste.objects.get()
    assert client.get(at("codes-read", visit, paste.pk)).status_code == 404


def test_a_freeze_frame_is_kept_line_by_line(client, visit):
    for _ in range(2):
        response = client.post(
            at("freeze-frame-add", visit),
            {"code": "p 0301", "text": "Engine speed 812 rpm\nLoad: 45,1 %\nodd line"},
        )
        assert response.status_code == 302
    frame = FreezeFrame.objects.get()
    assert frame.code == "P0301"
    assert frame.rows == [
        {"name": "Engine speed", "value": "812", "unit": "rpm"},
        {"name": "Load", "value": "45,1", "unit": "%"},
        {"name": "odd line", "value": "", "unit": ""},
    ]


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ({"code": "P03", "text": "Speed 3 km/h"}, named("triage.no-trouble-code-type")),
        ({"code": "", "text": " "}, named("triage.paste-values-first-one")),
        ({"code": "", "text": "P0301"}, named("triage.paste-values-first-one")),
        ({"code": "", "text": "a 1\n" * 300}, named("triage.paste-most-lines-time", max_rows=200)),
    ],
)
def test_a_freeze_frame_that_cannot_be_kept_is_told(client, visit, sent, sentence):
    page = client.post(at("freeze-frame-add", visit), sent)
    assert page.status_code == 422
    assert says(page.content.decode(), sentence)
    assert sent["text"].strip()[:6] in page.content.decode()
    assert not FreezeFrame.objects.exists()


def test_counts_are_kept_beside_earlier_ones(client, visit):
    for counts in ("0 143 2 0", "0 143 2 0", "1: 1, 2: 150, 3: 2, 4: 0"):
        client.post(at("misfires-set", visit), {"counts": counts, "period": "ten cycles"})
    assert [m.counts for m in MisfireCounts.objects.all()] == [
        {"1": 0, "2": 143, "3": 2, "4": 0},
        {"1": 1, "2": 150, "3": 2, "4": 0},
    ]
    page = client.get(at("visit", visit)).content.decode()
    assert says(page, "codes.counts-compare-between-cylinders")
    assert says(
        page, "triage.added-misfire-counts-cylinders", count=4, worst=", most on cylinder 2"
    )


@pytest.mark.parametrize("counts", ["", "lots", "1: 2, 1: 3", "99: 1"])
def test_counts_that_are_none_are_told(client, visit, counts):
    page = client.post(at("misfires-set", visit), {"counts": counts, "period": "this week"})
    assert page.status_code == 422
    assert "this week" in page.content.decode()
    assert not MisfireCounts.objects.exists()
