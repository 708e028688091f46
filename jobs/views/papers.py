"""A page's sheet as PDF: the same markup, set on the paper of the shop."""

import logging
from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from jobs.core.papers import (
    PaperSize,
    TypesettingError,
    fonts_in,
    read_sheet,
    sheet_text,
    typeset,
)
from shopdiag.people.access import MemberRequest
from shopdiag.people.models import Shop

_SIZES = {Shop.PaperSize.A4: PaperSize.A4, Shop.PaperSize.LETTER: PaperSize.LETTER}
_MOST_NAMED = 8
_log = logging.getLogger(__name__)


def sheet_of(request: MemberRequest, template: str, context: Mapping[str, Any]) -> str:
    """Return the markup of a sheet, for its page and for the PDF alike."""
    return render_to_string(template, dict(context), request=request)


def with_sheet(markup: str) -> dict[str, str]:
    """Return what a page shows of a sheet: itself, and what its PDF could not show."""
    return {"sheet": markup, "lacking": _lacking_words(markup)}


def _lacking_words(markup: str) -> str:
    lacking = fonts_in(settings.FONT_FOLDERS).lacking(sheet_text(read_sheet(markup)))
    if not lacking:
        return ""
    named = " ".join(lacking[:_MOST_NAMED]) + (" …" if len(lacking) > _MOST_NAMED else "")
    return ngettext(
        "The PDF names %(count)s character by its number because no font here has it: %(named)s",
        "The PDF names %(count)s characters by their numbers because no font here has them: "
        "%(named)s",
        len(lacking),
    ) % {"count": len(lacking), "named": named}


def pdf_of(
    request: MemberRequest, markup: str, *, title: str, name: str, page: str
) -> HttpResponse:
    """Answer with a sheet as PDF, or lead back to its page and say why there is none.

    Parameters
    ----------
    title
        The document's, as a reader of PDF shows it.
    name
        Of the file, without its ending; ASCII.
    page
        Address of the page that shows the same sheet.
    """
    try:
        pdf = typeset(
            read_sheet(markup),
            title=title,
            language=get_language() or "en",
            paper=_SIZES[Shop.PaperSize(request.member.shop.paper_size)],
            fonts=fonts_in(settings.FONT_FOLDERS),
        )
    except TypesettingError as error:
        _log.warning("no PDF of %s: %s", page, error)
        messages.error(request, _("The PDF could not be made; print this page instead."))
        return redirect(page)
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'attachment; filename="{name}.pdf"',
            "X-Content-Type-Options": "nosniff",
        },
    )
