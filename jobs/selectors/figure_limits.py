"""The limits of tests' figures as pages and programs show them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.measured_tests import Figure, Limit, Origin, TypedTest, limit_words, typed_test
from jobs.models import CylinderFinding, FigureLimit, WorkOrder
from jobs.selectors.limit_place import LimitPlace
from jobs.selectors.typed_findings import limits_of, newest_lines

ORIGINS: Mapping[Origin, Promise] = {
    Origin.JOB: _("manufacturer, this job"),
    Origin.ENGINE: _("this engine"),
    Origin.SHOP: _("this shop"),
    Origin.USUAL: _("usual"),
}
SCOPES: Mapping[Origin, Promise] = {
    Origin.JOB: _("This job: the manufacturer's figure"),
    Origin.ENGINE: _("This engine, in this shop"),
    Origin.SHOP: _("Every petrol engine, in this shop"),
}
_EVERY_DIESEL = _("Every diesel engine, in this shop")


@dataclass(frozen=True, slots=True)
class LimitLine:
    """What a figure is held against, in words, and where that comes from."""

    figure: str
    label: str
    words: str
    source: str
    origin: str


def limit_lines(entry: TypedTest, limits: Mapping[str, Limit], unit: str) -> tuple[LimitLine, ...]:
    """Return what each figure of a test is held against; figures without a rule are left out."""
    return tuple(
        line for figure in entry.limited if (line := _line(figure, limits.get(figure.name), unit))
    )


def _line(figure: Figure, limit: Limit | None, unit: str) -> LimitLine | None:
    label = gettext(figure.label)
    rule = figure.comparison
    if limit is not None and (limit.is_set or rule is None):
        words = limit_words(figure, limit, unit)
        return LimitLine(
            figure.name, label, words, gettext(limit.source), str(ORIGINS[limit.origin])
        )
    if rule is None:
        return None
    words = gettext("at most %(share).0f %% from the middle value")
    if not rule.is_high_bad:
        words = gettext("at most %(share).0f %% below the middle value")
    elif not rule.is_low_bad:
        words = gettext("at most %(share).0f %% above the middle value")
    return LimitLine(
        figure.name,
        label,
        words % {"share": 100 * rule.bad_share},
        gettext(rule.source),
        str(ORIGINS[Origin.USUAL]),
    )


def limit_lines_of(order: WorkOrder, entry: TypedTest) -> tuple[LimitLine, ...]:
    """Return what each figure of a test is held against on a job."""
    return limit_lines(entry, limits_of(order, entry), order.visit.shop.pressure_unit)


def limit_words_by_figure(order: WorkOrder, entry: TypedTest) -> dict[str, str]:
    """Return one line for each figure of a test that is held against something."""
    return {
        line.figure: gettext("Limit: %(words)s (%(origin)s; %(source)s).")
        % {"words": line.words, "origin": line.origin, "source": line.source}
        for line in limit_lines_of(order, entry)
    }


def tests_with_limits(place: LimitPlace, wanted: Sequence[str]) -> list[CylinderFinding.Test]:
    """Return the tests that limits can be set for, those that are wanted first."""
    found = [
        test
        for test in CylinderFinding.Test
        if (entry := typed_test(test.value, place.fuel)) is not None and entry.limited
    ]
    return sorted(found, key=lambda t: wanted.index(t.value) if t.value in wanted else len(wanted))


def scope_words(place: LimitPlace, scope: Origin) -> Promise:
    """Return for whom a limit holds, in words; a shop's for engines of the fuel."""
    is_diesel = place.fuel == "diesel"
    return _EVERY_DIESEL if scope is Origin.SHOP and is_diesel else SCOPES[scope]


def lines_in(place: LimitPlace, test: str, scope: Origin) -> dict[str, FigureLimit]:
    """Return the newest line of each figure of a test in one scope, also one that takes back."""
    lines = newest_lines(place, test)
    return {figure: line for (figure, origin), line in lines.items() if origin is scope}


def standing_in(place: LimitPlace, test: str, scope: Origin) -> dict[str, Limit]:
    """Return the limits of a test that were set in one scope, by figure."""
    lines = lines_in(place, test, scope).items()
    return {figure: limit for figure, line in lines if (limit := line.limit) is not None}


def set_meanwhile(place: LimitPlace, line: FigureLimit) -> str:
    """Return who set a line since a page was drawn, and what it says."""
    entry, limit = typed_test(line.test, place.fuel), line.limit
    figure = entry.figure(line.figure) if entry else None
    said = gettext("no limit")
    if figure is not None and limit is not None:
        said = limit_words(figure, limit, place.shop.pressure_unit)
    return gettext(
        "%(name)s set this meanwhile: %(limit)s. Save again to put yours in its place."
    ) % {"name": line.set_by.name, "limit": said}


def kept_with(place: LimitPlace) -> tuple[tuple[str, str], ...]:
    """Return the limits that stand with an engine or in the shop, each with its test, in words."""
    scope = place.scopes[-1]
    return tuple(
        (str(test.label), f"{gettext(figure.label)}: {words}")
        for test in tests_with_limits(place, ())
        if (entry := typed_test(test.value, place.fuel)) is not None
        for name, limit in standing_in(place, test.value, scope).items()
        if (figure := entry.figure(name)) is not None
        for words in [limit_words(figure, limit, place.shop.pressure_unit)]
    )
