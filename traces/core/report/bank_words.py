"""Bank against bank in words and rows, the same on pages, orders and the command line."""

from dataclasses import dataclass

from engines.core.positions import bank_labels
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import ngettext, say
from traces.core.findings import cylinders_words
from traces.core.report.bank_results import BankDifference
from traces.core.report.results import Report

ONE_OF_TWO = say(
    "Cam timing of one of the two banks: the weaker one is late or the other "
    "is early. Gauge one cylinder of each bank against the manufacturer's "
    "figure."
)


@dataclass(frozen=True, slots=True)
class BankRow:
    """One bank as it is drawn and listed.

    Parameters
    ----------
    name
        Letter of the bank, by the order in which the set-up names them.
    label
        The name with the number that fault codes use, such as "bank A (bank 1)".
    cylinders
        Its numbers in words, "cylinders 1, 3 and 5".
    mean, low, high
        Mean relative compression with its 95 % interval.
    call
        "weaker" where the banks are uneven and it is this one; "" else.
    """

    name: str
    label: str
    cylinders: str
    mean: float
    low: float
    high: float
    call: str


@dataclass(frozen=True, slots=True)
class BankView:
    """Bank against bank, ready for a template.

    `sentence` says how the banks differ, `advice` what to do about it, "" where nothing is.
    """

    rows: tuple[BankRow, ...]
    is_uneven: bool
    sentence: str
    advice: str


def apart_words(difference: BankDifference) -> str:
    """Return by how much banks differ, with the interval."""
    # a share, no directive; xgettext:no-python-format
    return ngettext(
        "{points:.0f} point (95 % interval {low:.0f} to {high:.0f})",
        "{points:.0f} points (95 % interval {low:.0f} to {high:.0f})",
        round(difference.points),
    ).format(points=difference.points, low=difference.low, high=difference.high)


def bank_view(report: Report) -> BankView | None:
    """Return the banks of a report; None where they were not compared."""
    difference = report.bank_difference
    if difference is None or report.verdict == "not judged":
        return None
    uneven = difference.call == "uneven" and not _is_one_low_cylinder(report)
    labels = bank_labels([bank.cylinders for bank in report.banks])
    rows = tuple(
        BankRow(
            name=chr(ord("A") + i),
            label=label,
            cylinders=str(cylinders_words(sorted(bank.cylinders))),
            mean=bank.mean,
            low=bank.low,
            high=bank.high,
            call="weaker" if uneven and bank.cylinders == difference.weaker else "",
        )
        for i, (label, bank) in enumerate(zip(labels, report.banks, strict=True))
    )
    apart = apart_words(difference)
    if uneven:
        weaker = next(row for row in rows if row.call)
        sentence = _("Uneven: {label}, {cylinders}, is weaker by {apart}.").format(
            label=weaker.label, cylinders=weaker.cylinders, apart=apart
        )
    elif difference.call == "uneven":
        sentence = _(
            "Of banks with one cylinder each, the difference is that of the cylinders: {apart}."
        ).format(apart=apart)
    elif any(f.code == "bank-uncertain" for f in report.findings):
        sentence = _("Even as far as this recording can tell: the banks differ by {apart}.").format(
            apart=apart
        )
    else:
        sentence = _("Even: the banks differ by {apart}.").format(apart=apart)
    return BankView(rows, uneven, sentence, str(ONE_OF_TWO) if uneven else "")


def _is_one_low_cylinder(report: Report) -> bool:
    """Return whether the weaker bank is a single cylinder that is called low itself."""
    difference = report.bank_difference
    suspects = {e.cylinder for e in report.estimates if e.call == "suspect"}
    return (
        difference is not None
        and len(difference.weaker) == 1
        and suspects.issuperset(difference.weaker)
    )


def weaker_cylinders(report: Report | None) -> tuple[int, ...]:
    """Return the cylinders of a bank that is weaker as a whole; none where no bank is."""
    difference = report.bank_difference if report else None
    if report is None or difference is None or not weaker_bank(report):
        return ()
    return difference.weaker


def bank_line(report: Report) -> str:
    """Return bank against bank as one line for a work order; "" where it was not compared."""
    view = bank_view(report)
    return f"{view.sentence} {view.advice}".strip() if view else ""


def weaker_bank(report: Report) -> str:
    """Return the weaker bank's label where the banks are uneven, else ""."""
    view = bank_view(report)
    return next((row.label for row in view.rows if row.call), "") if view else ""
