"""Tests beyond compression as typed records: figures, limits, and what rules say of them.

One entry of `registry.TESTS` is a test: its scope, its figures with ranges and usual limits, and
the rules beside the usual ones. Whatever asks for figures, stores or shows them reads it there.
"""

from jobs.core.measured_tests.checks import checked_values, doubts_about_figures
from jobs.core.measured_tests.entry import TypedTest
from jobs.core.measured_tests.figure import (
    Choice,
    Figure,
    Kind,
    Limit,
    Origin,
    Row,
    Scope,
    Value,
    Values,
)
from jobs.core.measured_tests.judging import (
    BAD,
    GOOD,
    NOTE,
    OPEN,
    Saying,
    missed,
    proposed,
    row_words,
)
from jobs.core.measured_tests.registry import (
    ALL_TYPED,
    TEST_KEYS,
    TESTS,
    applying_limits,
    sayings_of,
    typed_test,
)
from jobs.core.measured_tests.setting import limit_refusals
from jobs.core.measured_tests.shown import (
    figures_words,
    from_kept,
    limit_words,
    plain_number,
    shown_value,
    to_kept,
    unit_of,
)

__all__ = [
    "ALL_TYPED",
    "BAD",
    "GOOD",
    "NOTE",
    "OPEN",
    "TESTS",
    "TEST_KEYS",
    "Choice",
    "Figure",
    "Kind",
    "Limit",
    "Origin",
    "Row",
    "Saying",
    "Scope",
    "TypedTest",
    "Value",
    "Values",
    "applying_limits",
    "checked_values",
    "doubts_about_figures",
    "figures_words",
    "from_kept",
    "limit_refusals",
    "limit_words",
    "missed",
    "plain_number",
    "proposed",
    "row_words",
    "sayings_of",
    "shown_value",
    "to_kept",
    "typed_test",
    "unit_of",
]
