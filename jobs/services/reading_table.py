"""A test's readings of all cylinders, recorded in one go: all of them, or none."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID, uuid5

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.models import CylinderFinding, Visit, WorkOrder
from jobs.selectors.findings import current_findings, finding_words
from jobs.selectors.typed_findings import bank_words
from jobs.services.finding_doubts import doubts_about, dry_contradictions
from jobs.services.findings import (
    NewFinding,
    check_takes_findings,
    checked_finding,
    finding_record,
    said_of,
)
from jobs.services.typed_findings import typed_contradictions
from shopdiag.people.asking_back import Confirmed, ask_back
from shopdiag.people.models import Member


@dataclass(frozen=True, slots=True)
class TableRow:
    """What was typed for one cylinder, one bank or the engine.

    Parameters
    ----------
    found
        As it was typed.
    seen
        The finding that stood in this row when the page was opened; None for an empty row.
    """

    found: NewFinding
    seen: int | None


@dataclass(frozen=True, slots=True)
class _Pending:
    row: TableRow
    finding: CylinderFinding
    replaces: CylinderFinding | None


@transaction.atomic
def readings_add(
    *,
    order: WorkOrder,
    member: Member,
    rows: Sequence[TableRow],
    form_token: UUID,
    confirmed: Confirmed = False,
) -> list[CylinderFinding]:
    """Record the rows that a person changed; a row over a finding corrects it.

    A table that is sent again adds nothing: each row has a token of its own, made of the form's and
    of what it says. A row that somebody else recorded meanwhile is told, not replaced.

    Parameters
    ----------
    rows
        Those that differ from what their page showed.

    Raises
    ------
    ValidationError
        Of a row under `<row_name>.<field>`, and of odd figures under the tick.
    """
    visit = Visit.objects.select_for_update(no_key=True).get(pk=order.visit_id)
    locked = (
        WorkOrder.objects.select_for_update(no_key=True, of=("self",))
        .select_related("accepted_by__user")
        .get(pk=order.pk)
    )
    pending = _pending(visit, locked, rows, form_token)
    asked = [
        _("%(whose)s: %(question)s") % {"whose": _whose(one.finding), "question": question}
        for one in pending
        for question in doubts_about(locked, one.finding, one.replaces)
    ]
    dry = [one for one in pending if one.finding.test == CylinderFinding.Test.GAUGE_DRY]
    measured = [one.finding for one in dry if one.finding.pressure_kpa is not None]
    replaced = [one.replaces for one in dry if one.replaces]
    ask_back(
        confirmed,
        asked,
        dry_contradictions(locked, measured, replaced) if measured else (),
        typed_contradictions(
            locked,
            [one.finding for one in pending],
            [one.replaces for one in pending if one.replaces],
        ),
        about={row_name(one.row.found): said_of(one.finding) for one in pending},
    )
    made = []
    for one in pending:
        one.finding.form_token = row_token(form_token, one.row)
        made.append(
            finding_record(
                order=locked,
                visit=visit,
                member=member,
                finding=one.finding,
                replaces=one.replaces,
            )
        )
        # the first one accepts an open order
        locked.refresh_from_db(fields=["state", "accepted_by"])
    return made


def row_name(found: NewFinding) -> str:
    """Return what errors call a row: its cylinder, its bank, or the engine."""
    if found.bank is not None:
        return f"bank_{found.bank}"
    return "engine_0" if found.cylinder is None else f"cylinder_{found.cylinder}"


def _whose(finding: CylinderFinding) -> str:
    if finding.bank is not None:
        return bank_words(finding.bank)
    if finding.cylinder is None:
        return _("Engine")
    return _("Cylinder %(cylinder)s") % {"cylinder": finding.cylinder}


def row_token(form_token: UUID, row: TableRow) -> UUID:
    """Return the token of one row: the same words of the same form are the same row."""
    found = row.found
    said = [getattr(found, name) for name in NewFinding.__slots__ if name != "confirmed"]
    return uuid5(form_token, repr(said))


def _pending(
    visit: Visit, order: WorkOrder, rows: Iterable[TableRow], form_token: UUID
) -> list[_Pending]:
    """Return the rows that are not recorded yet, checked."""
    shown = {(f.test, f.cylinder, f.bank): f for f in current_findings(order)}
    pending: list[_Pending] = []
    errors: dict[str, list[ValidationError]] = {}
    for row in rows:
        found = row.found
        token = row_token(form_token, row)
        if CylinderFinding.objects.filter(form_token=token, work_order=order).exists():
            continue
        stands = shown.get((found.test, found.cylinder, found.bank))
        try:
            finding = checked_finding(order, found)
            if stands and said_of(stands) == said_of(finding):
                continue
            if stands and stands.pk != row.seen:
                said = _recorded_meanwhile(stands, visit.shop.pressure_unit)
                raise ValidationError({"outcome": said})
        except ValidationError as error:
            by_field = error.error_dict if hasattr(error, "error_dict") else {"": [error]}
            errors |= {f"{row_name(found)}.{name}": some for name, some in by_field.items()}
        else:
            check_takes_findings(visit, order, stands)
            pending.append(_Pending(row, finding, stands))
    if errors:
        raise ValidationError(errors)
    return pending


def _recorded_meanwhile(stands: CylinderFinding, unit: str) -> str:
    at = timezone.localtime(stands.at)
    return _(
        "%(name)s recorded this meanwhile, at %(at)s: %(finding)s. Save again to put yours in its "
        "place."
    ) % {"name": stands.by.name, "at": f"{at:%H:%M}", "finding": finding_words(stands, unit)}
