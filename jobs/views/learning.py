"""What the shop learnt from its own results, and its tables as files."""

from collections.abc import Iterator

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from jobs.core.learning import LEAST_CHECKED, HitRate
from jobs.core.proportion import Proportion
from jobs.core.spreadsheet import as_csv
from jobs.selectors.learning import MOST_VISITS, learning_of
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action

_Cells = list[str | int | float]


@requires(Action.SEE_LEARNING)
@require_safe
def learning(request: MemberRequest) -> HttpResponse:
    """Show how calls fared against gauge and leak-down, and the causes by engine."""
    context = {
        "learned": learning_of(request.member),
        "least": LEAST_CHECKED,
        "most": MOST_VISITS,
    }
    return render(request, "jobs/learning.html", context)


@requires(Action.SEE_LEARNING)
@require_safe
def calls_csv(request: MemberRequest) -> HttpResponse:
    """Return how calls fared by engine and signal, for a spreadsheet."""
    heading = [
        _("Engine"),
        _("Signal"),
        _("Suspect, checked"),
        _("Suspect, found bad"),
        _("To watch, checked"),
        _("To watch, found bad"),
        _("Good, checked"),
        _("Good, found good"),
    ]
    learned = learning_of(request.member)
    rows: Iterator[_Cells] = (
        [engine, signal, *_counts(rate)] for engine, signal, rate in learned.both
    )
    return _file("calls", as_csv(heading, rows))


@requires(Action.SEE_LEARNING)
@require_safe
def causes_csv(request: MemberRequest) -> HttpResponse:
    """Return how often each engine had each cause, for a spreadsheet."""
    heading = [
        _("Engine"),
        _("Cause"),
        _("Jobs with this cause"),
        _("Finished jobs of this engine"),
        _("Repairs that hold"),
        _("Share from"),
        _("Share to"),
    ]
    return _file("causes", as_csv(heading, _cause_cells(request)))


def _cause_cells(request: MemberRequest) -> Iterator[_Cells]:
    for row in learning_of(request.member).causes:
        found = row.count.found
        low, high = found.interval or (0.0, 1.0)
        yield [
            row.engine,
            row.group,
            found.count,
            found.total,
            row.count.proven,
            round(low, 3),
            round(high, 3),
        ]


def _counts(rate: HitRate) -> list[int]:
    kinds: tuple[Proportion, ...] = (rate.suspect, rate.watch, rate.sound)
    return [figure for kind in kinds for figure in (kind.total, kind.count)]


def _file(name: str, text: str) -> HttpResponse:
    # The mark tells spreadsheets that the text is UTF-8.
    response = HttpResponse("\ufeff" + text, content_type="text/csv; charset=utf-8; header=present")
    day = timezone.localdate().isoformat()
    response.headers["Content-Disposition"] = f'attachment; filename="{name}-{day}.csv"'
    return response
