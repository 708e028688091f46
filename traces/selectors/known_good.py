"""The shop's library of sound engines."""

from dataclasses import dataclass

from django.db.models import QuerySet

from engines.models import Engine
from shopdiag.people.models import Member
from traces.models import KnownGood, Run


@dataclass(frozen=True, slots=True)
class KnownGoodRow:
    """An entry as lists show it.

    Parameters
    ----------
    rpm, cycles
        Cranking speed and engine cycles judged.
    lowest, highest
        Relative compression of its lowest and its highest cylinder.
    """

    entry: KnownGood
    rpm: int | None
    cycles: int
    lowest: float | None
    highest: float | None


def known_good_found(
    member: Member, *, engine: Engine | None = None, retired: bool = False
) -> "QuerySet[KnownGood]":
    """Return the shop's entries by engine, the newest first; retired ones only when asked for."""
    entries = KnownGood.objects.seen_by(member).select_related(
        "engine", "created_by__user", "retired_by__user", "run__capture", "run__setup"
    )
    if engine is not None:
        entries = entries.filter(engine=engine)
    if not retired:
        entries = entries.filter(retired_at=None)
    return entries.order_by("engine__cylinders", "engine__name", "engine_id", "-pk")


def known_good_engines(member: Member) -> "QuerySet[Engine]":
    """Return the engines that the shop's library holds something of."""
    kept = KnownGood.objects.seen_by(member).values("engine")
    return Engine.objects.seen_by(member).filter(pk__in=kept)


def known_good_of(run: Run) -> KnownGood | None:
    """Return the entry of a run that is in use."""
    kept = KnownGood.objects.filter(run=run, retired_at=None)
    return kept.select_related("created_by__user").first()


def known_good_row(entry: KnownGood) -> KnownGoodRow:
    """Return an entry with its figures."""
    report = entry.run.report
    figures = [e.relative for e in report.estimates] if report else []
    return KnownGoodRow(
        entry,
        report.speed_rpm if report else None,
        report.cycles if report else 0,
        min(figures, default=None),
        max(figures, default=None),
    )
