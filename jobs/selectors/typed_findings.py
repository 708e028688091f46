"""Findings with typed figures: their rows, the limits that apply, and what the rules say."""

from collections.abc import Iterable, Mapping

from django.db.models import Q

from jobs.core.measured_tests import (
    TESTS,
    Limit,
    Origin,
    Row,
    Saying,
    Scope,
    TypedTest,
    Values,
    applying_limits,
    figures_words,
    row_words,
    sayings_of,
    typed_test,
)
from jobs.models import CylinderFinding, FigureLimit, WorkOrder
from jobs.selectors.captures import engine_of, fuel_of
from jobs.selectors.limit_place import LimitPlace, place_of

_NOT_DONE = CylinderFinding.Outcome.NOT_DONE


def typed_test_of(order: WorkOrder, test: str) -> TypedTest | None:
    """Return the figures of a test on the engine of an order; None where it is told in words."""
    return typed_test(test, fuel_of(order.visit, order.judgement.run))


def row_of_finding(finding: CylinderFinding) -> Row:
    """Return which row of its test a finding is about."""
    entry = TESTS.get(finding.test)
    is_bank = entry is not None and entry.scope is Scope.BANK
    return finding.bank if is_bank else finding.cylinder


def rows_of(findings: Iterable[CylinderFinding], test: str) -> dict[Row, Values]:
    """Return the figures of a test by row, as its findings hold them; the last one counts."""
    return {
        row_of_finding(f): f.figures
        for f in findings
        if f.test == test and f.figures and f.outcome != _NOT_DONE
    }


def newest_lines(place: LimitPlace, test: str) -> dict[tuple[str, Origin], FigureLimit]:
    """Return the newest line about each figure of a test, by whose it is; some take limits back.

    A closed job keeps the limits it was closed with. A shop's limit counts for engines of the
    fuel it was set for.
    """
    visit = place.visit
    lines = FigureLimit.objects.filter(shop=place.shop, test=test).order_by("pk")
    if visit is not None and visit.closed_at is not None:
        lines = lines.filter(set_at__lte=visit.closed_at)
    wanted = Q(visit=None, engine=None) & (Q(fuel=place.fuel) | Q(fuel=None))
    if place.engine is not None:
        wanted |= Q(visit=None, engine=place.engine)
    if visit is not None:
        wanted |= Q(visit=visit)
    found: dict[tuple[str, Origin], FigureLimit] = {}
    for line in lines.filter(wanted).select_related("set_by__user"):
        found[line.figure, line.origin] = line
    return found


def limits_set(place: LimitPlace, test: str) -> dict[tuple[str, Origin], Limit]:
    """Return the limits of a test that people set, by figure and whose they are."""
    lines = newest_lines(place, test).items()
    return {key: limit for key, line in lines if (limit := line.limit) is not None}


def limits_of(order: WorkOrder, entry: TypedTest) -> dict[str, Limit]:
    """Return the limit that applies to each figure of a test on a job."""
    return limits_at(place_of(order), entry)


def limits_at(place: LimitPlace, entry: TypedTest) -> dict[str, Limit]:
    """Return the limit that applies to each figure of a test, as far as a place tells."""
    return applying_limits(entry, limits_set(place, entry.test), place.shop.altitude_m)


def sayings_about(
    order: WorkOrder, entry: TypedTest, rows: Mapping[Row, Values]
) -> tuple[Saying, ...]:
    """Return what the rules say of a test's rows on a job."""
    return sayings_of(entry, rows, limits_of(order, entry), order.visit.shop.pressure_unit)


def typed_words(finding: CylinderFinding, unit: str) -> str:
    """Return the typed figures of a finding in one line; '' where it has none."""
    entry = TESTS.get(finding.test)
    if entry is None or not finding.figures:
        return ""
    return figures_words(entry.typed, finding.figures, unit)


def bank_words(bank: int) -> str:
    """Return a bank as a scan tool numbers it, in words."""
    return row_words(Scope.BANK, bank)


def banks_of(order: WorkOrder) -> int:
    """Return how many banks an engine surely has; one where it stands in a row or is not known."""
    engine = engine_of(order.visit, order.judgement.run)
    return min(2, len(engine.layout_kind.banks)) if engine else 1
