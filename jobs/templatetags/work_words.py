"""How cylinders, findings and search results read on pages."""

import re
from collections.abc import Collection, Iterable
from decimal import Decimal

from django import template

from jobs.core.amounts import amount_written, money_written
from jobs.core.dialling import dial_address as _dial_address
from jobs.core.misfires import counts_text
from jobs.core.proportion import Proportion
from jobs.core.request import named
from jobs.core.week_words import proportion_words
from jobs.models import CylinderFinding
from jobs.selectors.finding_hints import Hint
from jobs.selectors.findings import finding_words, reading_words
from jobs.selectors.found_jobs import match_words
from traces.core.report import Report
from traces.core.starter import starter_line

register = template.Library()
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=%|kPa|bar|psi)")
_END = re.compile(r"[.;?!](?=\s)")


@register.filter
def cylinders(numbers: Collection[int]) -> str:
    """Return 'cylinder 3' or 'cylinders 2 and 3'; nothing for none."""
    return named(numbers) if numbers else ""


@register.filter
def proportion(found: Proportion) -> str:
    """Return count, denominator, share and interval."""
    return proportion_words(found)


@register.filter
def amount(typed: str) -> str:
    """Return an amount that somebody typed as the reader writes numbers."""
    return amount_written(typed)


@register.filter
def money(figure: Decimal, currency: str) -> str:
    """Return an amount with its currency as the reader writes numbers."""
    return money_written(float(figure), currency)


@register.filter
def dial_address(phone: str) -> str:
    """Return the address that dials a phone number; empty where none can be told."""
    return _dial_address(phone)


@register.filter
def finding_line(finding: CylinderFinding, unit: str) -> str:
    """Return a finding in one line, with its pressure in the shop's unit."""
    line = finding_words(finding, unit)
    return line[:1].upper() + line[1:]


@register.filter
def found_by(rank: int) -> str:
    """Return how a job was found: "by plate"."""
    return match_words(rank)


@register.filter
def doubtful(hints: Iterable[Hint]) -> list[Hint]:
    """Return the hints that point at a fault."""
    return [hint for hint in hints if hint.doubtful]


@register.filter
def counts_line(counts: dict[str, int]) -> str:
    """Return misfire counts the way they are typed; nothing for none."""
    return counts_text(counts)


@register.filter
def reading(finding: CylinderFinding, unit: str) -> str:
    """Return a finding's figures in one line; nothing where it has none.

    No line breaks between a figure and its unit.
    """
    return _BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", reading_words(finding, unit))


@register.filter
def cranked(report: Report | None) -> str:
    """Return how the engine was cranked in one line; nothing where that is not known."""
    return starter_line(report.starter) if report and report.starter else ""


@register.filter
def sentences(text: str, most: int) -> str:
    """Return the whole sentences or clauses that fit; cut with an ellipsis where not one does."""
    if len(text) <= most:
        return text
    ends = [found.end() for found in _END.finditer(text) if found.end() <= most]
    return text[: ends[-1]].rstrip(";") if ends else text[: most - 1].rstrip() + "…"
