"""Where limits of a test's figures are set: on a job, with an engine, or in the shop's settings."""

from dataclasses import dataclass

from engines.models import Engine
from jobs.core.measured_tests import Origin
from jobs.models import Visit, WorkOrder
from jobs.selectors.captures import engine_of, fuel_of
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member, Shop


@dataclass(frozen=True, slots=True)
class LimitPlace:
    """Whose limits are seen and set from a page.

    Parameters
    ----------
    fuel
        What the engine runs on: figures and a shop's limits go by it.
    engine, visit
        None where the page is not about one.
    """

    shop: Shop
    fuel: str
    engine: Engine | None = None
    visit: Visit | None = None

    @property
    def scopes(self) -> tuple[Origin, ...]:
        """For whom a limit can be set here; an engine only where it is known."""
        if self.visit is not None:
            found = (Origin.JOB, Origin.ENGINE, Origin.SHOP)
            return found if self.engine is not None else (Origin.JOB, Origin.SHOP)
        return (Origin.SHOP,) if self.engine is None else (Origin.ENGINE,)


def place_of(order: WorkOrder) -> LimitPlace:
    """Return where the limits of a work order's tests are set."""
    visit, run = order.visit, order.judgement.run
    return LimitPlace(visit.shop, fuel_of(visit, run), engine_of(visit, run), visit)


def may_set(member: Member, scope: Origin) -> bool:
    """Return whether a member may set limits in a scope; those of the shop are its settings."""
    return scope is not Origin.SHOP or member.may(Action.KEEP_SHOP)
