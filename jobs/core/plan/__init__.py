"""The guided plan: causes with what speaks for and against them, and the tests that come next."""

from jobs.core.plan.evidence import (
    NOT_MEASURED,
    NOT_RECORDED,
    Compression,
    Costs,
    EngineFacts,
    Evidence,
    IdleBalance,
    InCylinder,
    Said,
    SwapDone,
    TestDone,
)
from jobs.core.plan.learning import BookedOrder, Learnt, learnt_minutes
from jobs.core.plan.orders import by_plan
from jobs.core.plan.plan import Plan, PlanCause, PlannedTest, plan_for
from jobs.core.plan.unknown_facts import facts_that_matter

__all__ = [
    "NOT_MEASURED",
    "NOT_RECORDED",
    "BookedOrder",
    "Compression",
    "Costs",
    "EngineFacts",
    "Evidence",
    "IdleBalance",
    "InCylinder",
    "Learnt",
    "Plan",
    "PlanCause",
    "PlannedTest",
    "Said",
    "SwapDone",
    "TestDone",
    "by_plan",
    "facts_that_matter",
    "learnt_minutes",
    "plan_for",
]
