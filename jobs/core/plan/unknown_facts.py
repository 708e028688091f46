"""What nobody noted of an engine though it would change what comes next."""

from dataclasses import replace
from typing import Literal, TypeAlias

from jobs.core.plan.evidence import Costs, Evidence
from jobs.core.plan.plan import Plan, plan_for

Fact: TypeAlias = Literal["coils", "injection"]
_COILS = ("single", "pairs", "distributor")
_INJECTION = ("port", "direct", "single_point")


def facts_that_matter(evidence: Evidence, costs: Costs | None = None) -> tuple[Fact, ...]:
    """Return the facts that are not known and on which the first tests or leading causes hang.

    Nothing is asked of a diesel, which has no coils and whose injection the plan takes for a common
    rail, nor once a test shows the cause.
    """
    if evidence.fuel == "diesel" or plan_for(evidence, costs).is_shown:
        return ()
    found: list[Fact] = []
    if not evidence.ignition:
        coils = (plan_for(replace(evidence, ignition=kind), costs) for kind in _COILS)
        if len({_in_short(plan) for plan in coils}) > 1:
            found.append("coils")
    if not evidence.injection:
        kinds = (plan_for(replace(evidence, injection=kind), costs) for kind in _INJECTION)
        if len({_in_short(plan) for plan in kinds}) > 1:
            found.append("injection")
    return tuple(found)


def _in_short(plan: Plan) -> tuple[tuple[str, ...], str]:
    """Return what a mechanic goes by: the first tests, and the cause that leads."""
    return tuple(test.key for test in plan.first_tests), plan.causes[0].key
