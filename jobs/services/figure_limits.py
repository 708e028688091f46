"""Setting limits of a test's figures: for the job, the engine or the shop."""

from collections.abc import Mapping
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from jobs.core.test_figures import Limit, Origin, limit_refusals
from jobs.models import CylinderFinding, FigureLimit, Visit, WorkOrder
from jobs.selectors.captures import engine_of, fuel_of
from jobs.selectors.figure_limits import ORIGINS, scopes_of, standing_in
from jobs.selectors.typed_findings import typed_test_of
from jobs.services.timeline import event_add
from jobs.services.visits import check_open
from shopdiag.people.models import Member, Shop

LONGEST_SOURCE = 200


@transaction.atomic
def figure_limits_set(
    *,
    order: WorkOrder,
    member: Member,
    test: str,
    scope: Origin,
    limits: Mapping[str, Limit],
    source: str,
    form_token: UUID | None = None,
) -> list[FigureLimit]:
    """Set limits of a test's figures in one scope; what stands already adds no line.

    The same form token sets nothing more, so that a form sent twice counts once.

    Parameters
    ----------
    scope
        `JOB` for the manufacturer's figure of this job, `ENGINE` or `SHOP` for the shop's own.
    limits
        By figure; one without any value takes back what was set there.
    source
        Where they come from; needed where a limit is set.

    Raises
    ------
    ValidationError
        If the test has no such figure, a limit cannot be, or the source is missing.
    """
    visit = Visit.objects.select_for_update(no_key=True).get(pk=order.visit_id)
    shop = Shop.objects.select_for_update(no_key=True).get(pk=visit.shop_id)
    check_open(visit)
    sent_before = FigureLimit.objects.filter(shop=shop, form_token=form_token)
    if form_token and sent_before.exists():
        return []
    said = source.strip()
    _check(order, test, scope, limits, said)
    stands = standing_in(order, test, scope)
    engine = engine_of(order.visit, order.judgement.run) if scope is Origin.ENGINE else None
    made = []
    for figure, limit in limits.items():
        before = stands.get(figure)
        values = (limit.least, limit.most, limit.apart)
        is_empty = values == (None, None, None)
        if is_empty and before is None:
            continue
        if before and (before.least, before.most, before.apart, before.source) == (*values, said):
            continue
        line = FigureLimit(
            shop=shop,
            engine=engine,
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
    if made:
        _tell(visit, member, test, scope, made)
    return made


def _check(
    order: WorkOrder, test: str, scope: Origin, limits: Mapping[str, Limit], source: str
) -> None:
    entry = typed_test_of(order, test)
    if entry is None:
        raise ValidationError({"test": _("No limits can be set for this test.")})
    if scope not in scopes_of(order):
        raise ValidationError({"scope": _("Name the engine of the vehicle first.")})
    known = {figure.name: figure for figure in entry.limited}
    fuel, unit = fuel_of(order.visit, order.judgement.run), order.visit.shop.pressure_unit
    errors: dict[str, str] = {}
    for name, limit in limits.items():
        figure = known.get(name)
        if figure is None:
            errors[name[:40]] = _("This test has no figure “%(name)s”.") % {"name": name[:40]}
            continue
        refused = limit_refusals(figure, limit, fuel=fuel, unit=unit)
        errors |= {f"{name}_{part}": words for part, words in refused.items()}
    is_set = any(x is not None for i in limits.values() for x in (i.least, i.most, i.apart))
    if is_set and not source:
        errors["source"] = _("Say where the figures come from: manual and page, or who set them.")
    if len(source) > LONGEST_SOURCE:
        errors["source"] = _("Say it in at most %(most)s characters.") % {"most": LONGEST_SOURCE}
    if errors:
        raise ValidationError(errors)


def _tell(visit: Visit, member: Member, test: str, scope: Origin, made: list[FigureLimit]) -> None:
    label = CylinderFinding.Test(test).label
    words = _("set limits of the test “%(test)s” (%(scope)s)") % {
        "test": label,
        "scope": ORIGINS[scope],
    }
    event_add(
        visit=visit,
        by=member,
        kind="work_order",
        words=words,
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
