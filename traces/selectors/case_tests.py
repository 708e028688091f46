"""Where the tests come from that a case takes along; who keeps them says so when it starts."""

from collections.abc import Callable
from dataclasses import dataclass

from traces.core.case import CaseTest
from traces.models import Capture


@dataclass(frozen=True, slots=True)
class TestsKept:
    """Who keeps tests of the engines that captures are of.

    Parameters
    ----------
    of_capture
        Returns the tests that belong to a capture.
    words
        Returns a test in one line, pressures in a unit.
    """

    of_capture: Callable[[Capture], tuple[CaseTest, ...]]
    words: Callable[[CaseTest, str], str]

    # pytest collects what is called so
    __test__ = False


KEEPERS: list[TestsKept] = []


def tests_beside(capture: Capture) -> tuple[CaseTest, ...]:
    """Return the tests that were made on the engine beside a capture."""
    return tuple(test for keeper in KEEPERS for test in keeper.of_capture(capture))


def tests_in_words(tests: tuple[CaseTest, ...], unit: str) -> tuple[str, ...]:
    """Return tests in words, a line each; none where nobody here knows tests."""
    return tuple(keeper.words(test, unit) for keeper in KEEPERS[:1] for test in tests)
