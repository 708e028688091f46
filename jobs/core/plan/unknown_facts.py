"""What nobody noted of an engine though it would change what comes next."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Literal, TypeAlias

from jobs.core.plan.evidence import Costs, Evidence
from jobs.core.plan.plan import InShort, do_tests_show, in_short

Fact: TypeAlias = Literal["coils", "injection"]
_COILS = ("single", "pairs", "distributor")
_INJECTION = {
    "petrol": ("port", "direct", "single_point"),
    "gas": ("port", "direct", "single_point"),
    "diesel": ("common_rail", "unit", "pump_line"),
}


def facts_that_matter(evidence: Evidence, costs: Costs | None = None) -> tuple[Fact, ...]:
    """Return the facts that are not known and on which the first tests or leading causes hang.

    A diesel has no coils; nothing is asked once a test shows the cause.
    """
    has_coils = evidence.fuel != "diesel"
    if evidence.injection and (evidence.ignition or not has_coils):
        return ()
    if do_tests_show(evidence):
        return ()
    found: list[Fact] = []
    if has_coils and not evidence.ignition:
        coils = (in_short(replace(evidence, ignition=kind), costs) for kind in _COILS)
        if _differ(coils):
            found.append("coils")
    if not evidence.injection:
        known = (replace(evidence, injection=kind) for kind in _INJECTION[evidence.fuel])
        kinds = (in_short(one, costs) for one in known)
        if _differ(kinds):
            found.append("injection")
    return tuple(found)


def _differ(plans: Iterable[InShort]) -> bool:
    """Return whether plans differ; none is made after the first two that do."""
    made = iter(plans)
    first = next(made)
    return any(plan != first for plan in made)
