"""The week, for who runs the shop and who speaks with customers; and its tables as files."""

from collections.abc import Iterator

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from jobs.core.comebacks import COMEBACK_DAYS
from jobs.core.spreadsheet import as_csv
from jobs.core.weeks import WEEKS
from jobs.selectors.waiting import WaitingJob, waiting_jobs
from jobs.selectors.week import Week, week_of
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.core.roles import Action

_SHOWN = 10
"""Jobs that the page lists; the file and the board hold all."""

_Cells = list[str | int | float]


@requires(Action.SEE_WEEK)
@require_safe
def week(request: MemberRequest) -> HttpResponse:
    """Show who waits longest and for whom, jobs and hours by week, and how verdicts fared."""
    found = week_of(request.member)
    context = {
        "week": found,
        "waiting": found.waiting[:_SHOWN],
        "not_shown": max(0, len(found.waiting) - _SHOWN),
        "weeks": WEEKS,
        "comeback_days": COMEBACK_DAYS,
    }
    return render(request, "jobs/week.html", context)


@requires(Action.SEE_WEEK)
@require_safe
def weeks_csv(request: MemberRequest) -> HttpResponse:
    """Return the table of weeks for a spreadsheet."""
    heading = [
        _("Week from"),
        _("Taken in"),
        _("Delivered"),
        _("Work orders completed"),
        _("Hours on the orders"),
        _("Hours used on them"),
        _("Hours booked"),
        _("Orders without a time"),
        _("Verdicts confirmed"),
        _("Verdicts not confirmed"),
        _("Verdicts not checked"),
    ]
    return _file("weeks", as_csv(heading, _week_cells(week_of(request.member))))


@requires(Action.SEE_WEEK)
@require_safe
def waiting_csv(request: MemberRequest) -> HttpResponse:
    """Return all open jobs for a spreadsheet: stopped ones, then the longest waiting."""
    heading = [
        _("Job"),
        _("Plate"),
        _("Vehicle"),
        _("Customer"),
        _("Stage"),
        _("Waits for"),
        _("Person"),
        _("Waiting since"),
        _("Taken in"),
    ]
    return _file("waiting", as_csv(heading, _waiting_cells(waiting_jobs(request.member))))


def _week_cells(found: Week) -> Iterator[_Cells]:
    for row in found.rows:
        yield [
            row.monday.isoformat(),
            row.taken_in,
            row.delivered,
            row.orders_done,
            round(row.hours, 2),
            round(row.hours_used, 2),
            round(row.hours_booked, 2),
            row.orders_without_time,
            row.confirmed,
            row.not_confirmed,
            row.not_checked,
        ]


def _waiting_cells(jobs: tuple[WaitingJob, ...]) -> Iterator[_Cells]:
    for job in jobs:
        vehicle = job.visit.vehicle
        yield [
            job.visit.number,
            vehicle.plate,
            str(vehicle),
            vehicle.customer.name,
            job.stage_words,
            job.party_words,
            job.holder,
            timezone.localtime(job.since).isoformat(sep=" ", timespec="minutes"),
            timezone.localtime(job.visit.opened_at).isoformat(sep=" ", timespec="minutes"),
        ]


def _file(name: str, text: str) -> HttpResponse:
    # The mark tells spreadsheets that the text is UTF-8.
    response = HttpResponse("\ufeff" + text, content_type="text/csv; charset=utf-8; header=present")
    day = timezone.localdate().isoformat()
    response.headers["Content-Disposition"] = f'attachment; filename="{name}-{day}.csv"'
    return response
