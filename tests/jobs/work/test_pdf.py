"""Papers as files say what their pages say, on the paper of the shop, to whom the pages do."""

from io import BytesIO
from unicodedata import normalize

import pytest
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext
from pypdf import PdfReader

from jobs.core.papers import TypesettingError, read_sheet, sheet_text
from jobs.models import Customer
from jobs.services.findings import NewFinding, finding_add
from jobs.views import papers
from shopdiag.people.models import Shop, User
from tests.jobs.work.kept_order import cast, kept, order, taken, visit
from tests.wording import wording

__all__ = ["cast", "kept", "order", "taken", "visit"]

PAPERS = {
    "jobs:work-order-pdf": "jobs:work-order-print",
    "jobs:customer-copy-pdf": "jobs:customer-copy",
    "jobs:job-report-pdf": "jobs:job-report",
}


@pytest.fixture
def address(order):
    def of(name):
        return reverse(name, args=[order.pk if "order" in name else order.visit_id])

    return of


def _words(pdf):
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
    return normalize("NFKC", text).replace("\u200b", "")


def _squeezed(text):
    return "".join(normalize("NFKC", text).replace("\u200b", "").split())


@pytest.mark.parametrize("name", PAPERS)
def test_the_file_says_all_that_the_page_says(cast, client_for, address, order, name):
    finding_add(
        order=order,
        member=cast.mechanic,
        found=NewFinding(3, "gauge_dry", "bad", 480, first_puff_kpa=180, words="Hiss"),
    )
    client = client_for(cast.owner)
    page = client.get(address(PAPERS[name])).content.decode()
    answer = client.get(address(name))
    assert answer.status_code == 200
    words = _squeezed(_words(answer.content))
    shown = sheet_text(read_sheet(page[page.index("<article") : page.index("</article>")]))
    said = normalize("NFKC", shown).split()
    assert len(said) > 50
    assert [word for word in said if _squeezed(word) not in words] == []


@pytest.mark.parametrize("name", PAPERS)
def test_headers_and_the_same_bytes_twice(cast, client_for, address, name):
    client = client_for(cast.diagnostician)
    first, second = (client.get(address(name)) for _ in range(2))
    assert first.content == second.content
    assert first["Content-Type"] == "application/pdf"
    assert first["X-Content-Type-Options"] == "nosniff"
    assert "no-store" in first["Cache-Control"]
    disposition = first["Content-Disposition"]
    assert disposition.startswith('attachment; filename="')
    assert disposition.isascii()
    assert len(PdfReader(BytesIO(first.content)).pages) == 1


@pytest.mark.parametrize("name", PAPERS)
@pytest.mark.parametrize(("size", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_the_shop_chooses_the_paper(*, cast, client_for, address, name, size, points):
    Shop.objects.filter(pk=cast.shop.pk).update(paper_size=size)
    pdf = client_for(cast.owner).get(address(name)).content
    box = PdfReader(BytesIO(pdf)).pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == points


@pytest.mark.parametrize("name", PAPERS)
def test_another_shop_finds_no_paper(cast, client_for, address, name):
    assert client_for(cast.outsider).get(address(name)).status_code == 404


@pytest.mark.parametrize("name", PAPERS)
def test_a_paper_that_cannot_be_made_leads_to_its_page(
    *, cast, client_for, address, monkeypatch, name
):
    def fails(*_given, **_named):
        raise TypesettingError("out of time")

    monkeypatch.setattr(papers, "typeset", fails)
    answer = client_for(cast.owner).get(address(name), follow=True)
    assert answer.redirect_chain == [(address(PAPERS[name]), 302)]
    assert len(list(answer.context["messages"])) == 1


def test_the_page_tells_what_the_file_could_not_show(cast, client_for, address, visit):
    page = address("jobs:customer-copy")
    assert client_for(cast.writer).get(page).context["lacking"] == ""
    Customer.objects.filter(pk=visit.vehicle.customer_id).update(name="Ana 𓀀𓁐")
    lacking = client_for(cast.writer).get(page).context["lacking"]
    assert "𓀀 𓁐" in lacking
    pdf = client_for(cast.writer).get(address("jobs:customer-copy-pdf")).content
    assert "[U+13000][U+13050]" in _words(pdf)


def test_a_mechanics_report_names_no_customer(cast, client_for, address, visit):
    Customer.objects.filter(pk=visit.vehicle.customer_id).update(name="Wilhelmina Quist")
    words = {
        member.role: _words(client_for(member).get(address("jobs:job-report-pdf")).content)
        for member in (cast.mechanic, cast.writer)
    }
    assert ["Wilhelmina Quist" in text for text in words.values()] == [False, True]


@pytest.mark.parametrize("language", ["es", "en"])
def test_the_customer_may_read_another_language_than_the_member(
    cast, client_for, address, language
):
    with translation.override(language):
        said = gettext("What you told us")
    other = {"es": "en", "en": "es"}[language]
    User.objects.filter(pk=cast.writer.user_id).update(language=other)
    client = client_for(cast.writer)
    page = client.get(f"{address('jobs:customer-copy')}?language={language}").content.decode()
    assert f'<html lang="{other}"' in page
    assert f'<div lang="{language}"' in page
    with translation.override(other):
        assert gettext(wording("customer_sheet.what-you-told-us")) not in page
    assert said in page
    file = f"{address('jobs:customer-copy-pdf')}?language={language}"
    assert f'href="{file}"' in page
    assert _squeezed(said) in _squeezed(_words(client.get(file).content))
    own = client.get(f"{address('jobs:customer-copy')}?language=xx").content.decode()
    assert f'<div lang="{other}"' in own
