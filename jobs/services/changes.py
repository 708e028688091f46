"""Saving a shared record and telling the timeline what changed in it."""

from collections.abc import Callable, Iterable
from typing import Any

from django.db import models, transaction
from django.utils.translation import gettext as _

from jobs.models import Visit
from jobs.services.timeline import event_add
from shopdiag.people.models import Member, Versioned
from shopdiag.people.services import versioned_save


@transaction.atomic
def record_change(
    *,
    row: Versioned,
    expected_version: int,
    member: Member,
    fields: Iterable[str],
    visits: Iterable[Visit],
    kind: str,
    what: Callable[[], str],
    keep_values: bool = True,
) -> bool:
    """Save `fields` of `row` and add "changed WHAT: field, field" to each visit's timeline.

    Saving what already stands writes nothing, so a form sent twice is no conflict.
    `what` words the record, once for each language. `keep_values` False keeps personal details
    out of the timeline's data.

    Returns
    -------
    bool
        Whether anything was written.

    Raises
    ------
    SavedMeanwhileError
        If somebody else saved the record after `expected_version`.
    """
    names = list(fields)
    stored = type(row)._default_manager.get(pk=row.pk)  # noqa: SLF001
    changed = [name for name in names if getattr(stored, name) != getattr(row, name)]
    if not changed:
        return False
    versioned_save(row=row, expected_version=expected_version, member=member, fields=names)
    values = {n: [_plain(stored, n), _plain(row, n)] for n in changed} if keep_values else {}
    for visit in visits:
        event_add(
            visit=visit,
            by=member,
            kind=kind,
            words=lambda: (
                _("changed %(what)s: %(labels)s")
                % {"what": what(), "labels": _labels(row, changed)}
            ),
            data={"fields": changed, "values": values},
        )
    return True


def _labels(row: Versioned, names: Iterable[str]) -> str:
    return ", ".join(label for label in (_label(row, name) for name in names) if label)


def _label(row: Versioned, name: str) -> str:
    """Return a field's name as a person knows it; derived columns have none."""
    field = row._meta.get_field(name)  # noqa: SLF001 - Django's documented API
    return str(getattr(field, "verbose_name", name)) if getattr(field, "editable", True) else ""


def _plain(row: Versioned, name: str) -> Any:  # noqa: ANN401 - any field's value, for JSON
    value = getattr(row, name)
    if isinstance(value, models.Model):
        return value.pk
    if value is None or isinstance(value, bool | int | float | str | list | dict):
        return value
    return str(value)
