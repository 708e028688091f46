"""The guided plan: causes with what speaks for and against them, and the tests that come next."""

from jobs.core.plan.evidence import (
    Compression,
    Costs,
    EngineFacts,
    Evidence,
    Said,
    SwapDone,
    TestDone,
)
from jobs.core.plan.plan import Plan, PlanCause, PlannedTest, plan_for

__all__ = [
    "Compression",
    "Costs",
    "EngineFacts",
    "Evidence",
    "Plan",
    "PlanCause",
    "PlannedTest",
    "Said",
    "SwapDone",
    "TestDone",
    "plan_for",
]
