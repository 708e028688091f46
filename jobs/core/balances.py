"""What a cranking or a running test says of the cylinders, as both are laid side by side."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import reduce

from jobs.core.request import is_open
from traces.core.report import Estimate, Report, is_uncertain

Sets = frozenset[frozenset[int]]

_FLYWHEEL_DOUBTS = frozenset({"flywheel-decides", "two-mass-judged"})


class Disagreement(StrEnum):
    """How captures of one state of an engine differ."""

    CYLINDERS = "cylinders"
    SOMETIMES = "sometimes"


@dataclass(frozen=True, slots=True)
class Balance:
    """What one kind of test says.

    Parameters
    ----------
    is_judged
        Whether it has a verdict.
    weak
        Cylinders by number; empty where none is weak.
    watch
        Those between weak and good.
    untested
        Those that it says nothing of, as their plug was out.
    is_settled
        Whether it is known which cylinders they are; a test with none of them settles all.
    is_uncertain
        Whether an even verdict holds only as far as the recording can tell.
    rests_on_flywheel
        Whether another kind of flywheel would make other cylinders weak, so that a cylinder is to
        be confirmed.
    """

    is_judged: bool
    weak: frozenset[int] = frozenset()
    watch: frozenset[int] = frozenset()
    untested: frozenset[int] = frozenset()
    is_settled: bool = True
    is_uncertain: bool = False
    rests_on_flywheel: bool = False


def balance_of(report: Report) -> Balance:
    """Return what a report says."""
    sets = report.candidates
    marked = [e for e in report.estimates if e.call != "sound"]
    return Balance(
        is_judged=report.verdict != "not judged",
        weak=frozenset(c for one in sets for c in one),
        watch=_called(report, "watch"),
        untested=frozenset() if report.open_cylinder is None else frozenset({report.open_cylinder}),
        is_settled=not marked or (report.cylinders_known and len(sets) == 1),
        is_uncertain=is_uncertain(report),
        rests_on_flywheel=does_rest_on_flywheel(report),
    )


def does_rest_on_flywheel(report: Report) -> bool:
    """Return whether another kind of flywheel would make other cylinders weak."""
    return any(f.code in _FLYWHEEL_DOUBTS for f in report.findings)


def _called(report: Report, call: str) -> frozenset[int]:
    return frozenset(e.cylinder for e in numbered(report) if e.call == call and e.cylinder)


def numbered(report: Report) -> tuple[Estimate, ...]:
    """Return the estimates whose cylinder is known."""
    if not report.cylinders_known:
        return ()
    return tuple(e for e in report.estimates if e.cylinder is not None)


def signed_balance(
    found: Balance,
    mechanical: str,
    cylinders: Collection[int],
    candidates: Sequence[Collection[int]] = (),
) -> Balance:
    """Return the compression as a person signed it, which counts before what the test says.

    Parameters
    ----------
    found
        What the test says; judged or not.
    mechanical
        What was signed: `yes`, `no` or `unsure`.
    cylinders
        The cylinders signed.
    candidates
        Sets of weak cylinders that fit the test.
    """
    signed = frozenset(cylinders)
    if mechanical == "yes":
        return replace(
            found,
            is_judged=True,
            weak=signed,
            watch=found.watch - signed,
            untested=found.untested - signed,
            is_settled=bool(signed) and not is_open(signed, candidates),
            is_uncertain=False,
        )
    if mechanical == "no":
        return replace(
            found, is_judged=True, weak=frozenset(), is_settled=found.is_settled or not found.watch
        )
    return replace(
        found, weak=frozenset(), watch=found.watch | found.weak | signed, is_uncertain=True
    )


def agreed_sets(
    told: Sequence[Sequence[Collection[int]]],
) -> tuple[Sets, Disagreement | None]:
    """Return the sets of weak cylinders that fit all of some captures, or how they disagree.

    Parameters
    ----------
    told
        By capture its sets that fit; one empty set where it is even.
    """
    each = [frozenset(frozenset(one) for one in sets) for sets in told]
    common = reduce(frozenset.intersection, each) if each else frozenset()
    if common or not each:
        return common, None
    nobody: Sets = frozenset({frozenset()})
    uneven = [sets for sets in each if sets != nobody]
    is_sometimes = len(uneven) < len(each) and reduce(frozenset.intersection, uneven)
    return common, Disagreement.SOMETIMES if is_sometimes else Disagreement.CYLINDERS
