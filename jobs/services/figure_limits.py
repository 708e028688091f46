"""Setting limits of a test's figures: for the job, the engine or the shop."""

from collections.abc import Iterable, Mapping
from uuid import UUID

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from jobs.core.measured_tests import Limit, Origin, limit_refusals, typed_test
from jobs.models import CylinderFinding, FigureLimit, Visit, WorkOrder
from jobs.selectors.captures import engine_of, fuel_of
from jobs.selectors.figure_limits import ORIGINS, lines_in, set_meanwhile
from jobs.selectors.limit_place import LimitPlace, may_set
from jobs.services.timeline import event_add
from jobs.services.visits import check_open
from shopdiag.people.models import Member, Shop

LONGEST_SOURCE = 200
_EMPTY = (None, None, None)


@transaction.atomic
def figure_limits_set(
    *,
    place: LimitPlace,
    member: Member,
    test: str,
    scope: Origin,
    limits: Mapping[str, Limit],
    source: str,
    form_token: UUID | None = None,
    seen: Mapping[str, int] | None = None,
) -> list[FigureLimit]:
    """Set limits of a test's figures in one scope; what stands already adds no line.

    The source goes with the figures that change; where none does, it corrects theirs. The same
    form token sets nothing more, so that a form sent twice counts once.

    Parameters
    ----------
    place
        The job, engine or shop that the page is about.
    scope
        `JOB` for the manufacturer's figure of this job, `ENGINE` or `SHOP` for the shop's own.
    limits
        By figure; one without any value takes back what was set there.
    source
        Where they come from; needed where a limit is set.
    seen
        The newest line of each figure that the page showed; None where nothing was shown.

    Raises
    ------
    ValidationError
        If the test has no such figure, a limit cannot be, the source is missing, or somebody set
        another limit since the page was drawn.
    PermissionDenied
        If limits of the shop are set by somebody who may not change its settings.
    """
    if not may_set(member, scope):
        raise PermissionDenied
    visit = place.visit
    if visit is not None:
        visit = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
        check_open(visit)
    shop = Shop.objects.select_for_update(no_key=True).get(pk=place.shop.pk)
    sent_before = FigureLimit.objects.filter(shop=shop, form_token=form_token)
    if form_token and sent_before.exists():
        return []
    said = source.strip()
    _check(place, test, scope, limits, said)
    lines = lines_in(place, test, scope)
    changed = _changed(limits, lines, said)
    if seen is not None:
        check_seen(place, changed, lines, seen)
    made = []
    for figure, limit in changed.items():
        is_empty = _values(limit) == _EMPTY
        line = FigureLimit(
            shop=shop,
            engine=place.engine if scope is Origin.ENGINE else None,
            fuel=place.fuel if scope is Origin.SHOP else None,
            visit=visit if scope is Origin.JOB else None,
            test=test,
            figure=figure,
            least=limit.least,
            most=limit.most,
            apart=limit.apart,
            source="" if is_empty else said,
            form_token=form_token,
            set_by=member,
        )
        line.save()
        made.append(line)
    if made and visit is not None:
        _tell(visit, member, test, scope, made)
    if made and scope is not Origin.JOB:
        for other in _judged_by(place, test, scope):
            if visit is None or other.pk != visit.pk:
                _tell(other, member, test, scope, made)
    return made


def _judged_by(place: LimitPlace, test: str, scope: Origin) -> list[Visit]:
    """Return the open jobs that hold figures of a test and are judged by limits of this scope."""
    measured = CylinderFinding.objects.filter(
        work_order__visit__shop=place.shop,
        work_order__visit__closed_at=None,
        test=test,
        replaced_by=None,
        figures__isnull=False,
    )
    orders = WorkOrder.objects.filter(pk__in=measured.values("work_order")).select_related(
        "visit__shop", "visit__vehicle__engine", "judgement__run__setup__engine"
    )
    found: dict[int, Visit] = {}
    for order in orders.order_by("pk"):
        run = order.judgement.run
        is_of_shop = scope is Origin.SHOP and fuel_of(order.visit, run) == place.fuel
        is_of_engine = scope is Origin.ENGINE and engine_of(order.visit, run) == place.engine
        if is_of_shop or is_of_engine:
            found.setdefault(order.visit_id, order.visit)
    return list(found.values())


def _values(limit: Limit | FigureLimit | None) -> tuple[float | None, ...]:
    return (limit.least, limit.most, limit.apart) if limit else _EMPTY


def _changed(
    limits: Mapping[str, Limit], lines: Mapping[str, FigureLimit], source: str
) -> dict[str, Limit]:
    """Return the limits with other values; where there are none, those with another source."""
    changed = {f: i for f, i in limits.items() if _values(i) != _values(lines.get(f))}
    if changed:
        return changed
    return {f: i for f, i in limits.items() if _values(i) != _EMPTY and lines[f].source != source}


def check_seen(
    place: LimitPlace,
    changed: Iterable[str],
    lines: Mapping[str, FigureLimit],
    seen: Mapping[str, int],
) -> None:
    """Refuse limits whose newest line is another than the page showed.

    Raises
    ------
    ValidationError
        Beside each of them, with who set it meanwhile.
    """
    moved = [line for f in changed if (line := lines.get(f)) and line.pk != seen.get(f)]
    if moved:
        raise ValidationError({f"{line.figure}_most": set_meanwhile(place, line) for line in moved})


def _check(
    place: LimitPlace, test: str, scope: Origin, limits: Mapping[str, Limit], source: str
) -> None:
    entry = typed_test(test, place.fuel)
    if entry is None:
        raise ValidationError({"test": _("No limits can be set for this test.")})
    if scope not in place.scopes:
        raise ValidationError({"scope": _("Name the engine of the vehicle first.")})
    known = {figure.name: figure for figure in entry.limited}
    fuel, unit = place.fuel, place.shop.pressure_unit
    errors: dict[str, str] = {}
    for name, limit in limits.items():
        figure = known.get(name)
        if figure is None:
            errors[name[:40]] = _("This test has no figure “%(name)s”.") % {"name": name[:40]}
            continue
        compared = entry.compares(figure)
        refused = limit_refusals(figure, limit, fuel=fuel, unit=unit, compared=compared)
        errors |= {f"{name}_{part}": words for part, words in refused.items()}
    is_set = any(x is not None for i in limits.values() for x in (i.least, i.most, i.apart))
    if is_set and not source:
        errors["source"] = _("Say where the figures come from: manual and page, or who set them.")
    if len(source) > LONGEST_SOURCE:
        errors["source"] = _("Say it in at most %(most)s characters.") % {"most": LONGEST_SOURCE}
    if errors:
        raise ValidationError(errors)


def _tell(visit: Visit, member: Member, test: str, scope: Origin, made: list[FigureLimit]) -> None:
    event_add(
        visit=visit,
        by=member,
        kind="work_order",
        words=lambda: (
            _("set limits of the test “%(test)s” (%(scope)s)")
            % {"test": CylinderFinding.Test(test).label, "scope": ORIGINS[scope]}
        ),
        data={
            "test": test,
            "scope": scope.value,
            "limits": {
                line.figure: {"least": line.least, "most": line.most, "apart": line.apart}
                for line in made
            },
            "source": made[0].source,
        },
    )
