"""Which test comes next: what it is expected to tell over what it costs on this engine.

What a test tells is worth the loss of entropy of the causes' shares that it is expected to bring,
in bits, and `SHOWN_BITS` times the chance that it shows a cause, because no cause counts as found
without a test that shows it. Both are averaged over what the tests before it may have found; where
one has shown a cause, only the tests of its extent are worth something still. The sum is divided by
the minutes, those to reach the plugs among them, to fetch and connect the tool unless it is
connected by then, and to write down. What can do harm is settled before all else, and what
everything later is compared with is noted before anything is moved: counts where it misfires, a
second capture where one decides.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from jobs.core.plan.asking import (
    LACKING,
    is_away,
    is_oily,
    is_to_be_counted,
    to_compare_with,
)
from jobs.core.plan.clues import ROUGH, are_plugs_due
from jobs.core.plan.evidence import Costs, Evidence
from jobs.core.plan.focus import Focus
from jobs.core.plan.knowledge import CAUSES, PRIORS, TESTS, PlanTest
from jobs.core.plan.reach import banks_of, reach_minutes
from jobs.core.plan.readings import cylinders_left, is_done
from jobs.core.plan.safety import is_timing_in_doubt, may_hold_liquid, may_run, safety_first
from jobs.core.plan.scoring import Score
from jobs.core.plug_access import LONG_MINUTES

CONNECT_MINUTES = 8.0
"""To fetch a tool and connect it (common practice); once for all tests that share it."""
READ_PLUGS_MINUTES = 5.0
"""To read plugs that come out anyway (common practice)."""
NOTE_MINUTES = 4.0
"""To write a result down (common practice)."""
SHOWN_BITS = 1.5
_HALF_SHOWN = 0.5
EXTENT_BITS = 1.0
COMPARED_BITS = 0.1
"""What counts are worth beside what they tell: the proof of a repair is compared with them."""
LEAST_BITS = 0.025
"""A test that is worth less is not proposed."""
LEAST_BITS_EARLY = 0.005
"""So much is enough for one of the first: where two find nothing, a third is at hand."""
_EARLY = 3
NEAR_BITS = 0.1
"""Where plugs take long to reach, tests that need none come first from here on."""
MOST_TESTS = 6
_MOST_SCENARIOS = 24
_SEPARATES_FROM = 0.03
_LIKELY = 0.4
_LOCKS = frozenset({"repeat", "repeat_warm", "repeat_cold", "sync", "starter"})
"""Tests that only crank: not while an engine may hold liquid or be out of time."""
_INDEX = {cause: at for at, cause in enumerate(CAUSES)}

Shares = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Choice:
    """A test chosen, with why.

    Parameters
    ----------
    minutes
        With reaching the plugs, as far as they are not reached by then.
    bits
        What it is expected to tell.
    separates
        Causes that it would find, the likeliest first.
    is_for_safety
        Whether it stands first because of what could happen.
    is_extent
        Whether a cause is shown already and it tells how far the damage goes.
    """

    test: PlanTest
    minutes: float
    bits: float
    separates: tuple[str, ...]
    is_for_safety: bool = False
    is_extent: bool = False


def choose(
    evidence: Evidence, focus: Focus, scored: Score, costs: Costs, *, most: int = MOST_TESTS
) -> tuple[Choice, ...]:
    """Return the tests to make, in order; those that must be made may be more than `most`."""
    state = _State(evidence, focus, costs, scored)
    for key in safety_first(evidence):
        state.take(TESTS[key], is_for_safety=True)
    if scored.shown:
        for cause in scored.shown:
            for key in PRIORS[cause].extent:
                state.take(TESTS[key], is_extent=True)
        return tuple(state.chosen)
    for key in to_compare_with(evidence, focus):
        state.take(TESTS[key])
    while len(state.chosen) < most:
        best = state.best()
        if best is None:
            break
        state.take(best)
    return tuple(state.chosen)


@dataclass(frozen=True, slots=True)
class _Outcomes:
    """A test's outcomes as arrays: chances by outcome and cause, and what each shows."""

    chances: Shares
    credit: Shares
    """By outcome and cause, how much of `SHOWN_BITS` it is worth that this is found so."""
    ends: NDArray[np.bool_]
    """Which outcomes end the search: a cause is shown, or something is put right on it."""


@cache
def _outcomes(key: str, *, has_banks: bool) -> _Outcomes:
    test = TESTS[key]
    found = np.array([[f.chance(c) for c in CAUSES] for f in test.finds.values()])
    finds = dict(test.finds)
    if not has_banks:
        # an engine in one row tells as another outcome what needs two banks to be seen
        for at, (name, finding) in enumerate(test.finds.items()):
            if finding.in_one_row:
                found[list(test.finds).index(finding.in_one_row)] += found[at]
                del finds[name]
        found = found[[name in finds for name in test.finds]]
    good_row = np.maximum(0.01, 1.0 - found.sum(axis=0))
    chances = np.vstack([found, good_row])
    good = chances[-1]
    for cause in test.clears:
        good[_INDEX[cause]] = 1e-3
    chances /= chances.sum(axis=0)
    credit = np.zeros_like(chances)
    for at, finding in enumerate(finds.values()):
        for cause in finding.acts | finding.proves:
            credit[at, _INDEX[cause]] = _HALF_SHOWN
        for cause in finding.shows:
            credit[at, _INDEX[cause]] = _HALF_SHOWN if finding.is_open else 1.0
    for cause in test.good_acts:
        credit[-1, _INDEX[cause]] = _HALF_SHOWN
    ends = [not f.is_open and bool(f.shows or f.acts) for f in finds.values()] + [False]
    return _Outcomes(chances, credit, np.array(ends))


class _State:
    """What is chosen so far, and what may be known by then, as weighted scenarios."""

    def __init__(self, evidence: Evidence, focus: Focus, costs: Costs, scored: Score) -> None:
        self.evidence, self.focus, self.costs = evidence, focus, costs
        self.is_to_be_counted = is_to_be_counted(evidence, focus)
        self.chosen: list[Choice] = []
        self.reached: set[int] = set()
        # codes and counts were read with the scan tool
        self.connected: set[str] = {"scan_tool"} if evidence.codes or evidence.counts else set()
        self.shares: Shares = np.array([scored.shares.get(c, 0.0) for c in CAUSES])
        self.scenarios: Shares = self.shares[None]
        """What may be known by then: a row of shares each, and how likely it is."""
        self.weights: Shares = np.ones(1)
        self.found: Shares = np.zeros(len(CAUSES))
        """How likely each cause is found by then."""

    def take(self, test: PlanTest, *, is_for_safety: bool = False, is_extent: bool = False) -> None:
        """Add a test, unless it was made or chosen or does not apply."""
        if not self._applies(test):
            return
        self.chosen.append(
            Choice(
                test=test,
                minutes=self._minutes(test),
                bits=self._worth_bits(test),
                separates=_separates(self.shares, test),
                is_for_safety=is_for_safety,
                is_extent=is_extent,
            )
        )
        self.reached |= self._banks_of(test)
        self.connected.add(test.handling(has_rail=self.evidence.has_rail)[1])
        # what comes after is chosen as if the safety of the engine were settled
        if not is_for_safety:
            self._branch(test)

    def best(self) -> PlanTest | None:
        """Return the test that is worth most for its minutes; None where none is worth it."""
        worth = []
        least_bits = LEAST_BITS if len(self.chosen) >= _EARLY else LEAST_BITS_EARLY
        for test in TESTS.values():
            if self._applies(test) and self._is_asked_for(test):
                bits = self._worth_bits(test)
                if bits >= least_bits:
                    # the rule of `by_access`: what needs no plug out comes before long reaching
                    is_near = bits >= NEAR_BITS and self._is_near(test)
                    worth.append((is_near, bits / self._cost_minutes(test), test))
        return max(worth, key=lambda one: one[:2])[2] if worth else None

    def _worth_bits(self, test: PlanTest) -> float:
        outcomes = self._outcomes_of(test)
        told = _told_bits(self.scenarios, outcomes) + SHOWN_BITS * _credit(self.scenarios, outcomes)
        bits = self.weights @ told
        extent = sum(
            self.found[_INDEX[cause]] for cause, prior in PRIORS.items() if test.key in prior.extent
        )
        compared = COMPARED_BITS if test.key == "counts" and self.is_to_be_counted else 0.0
        return float(bits + EXTENT_BITS * extent + compared)

    def _outcomes_of(self, test: PlanTest) -> _Outcomes:
        return _outcomes(test.key, has_banks=bool(self.evidence.engine.banks))

    def _branch(self, test: PlanTest) -> None:
        """Split every scenario by what the test may find; where it shows a cause, it ends."""
        outcomes = self._outcomes_of(test)
        joint = self.weights[:, None, None] * self.scenarios[:, None, :] * outcomes.chances
        self.found += joint[:, outcomes.ends].sum(axis=(0, 1))
        left = joint[:, ~outcomes.ends].reshape(-1, joint.shape[2])
        weights = left.sum(axis=1)
        kept = np.argsort(-weights)[:_MOST_SCENARIOS]
        kept = kept[weights[kept] > 0]
        self.weights = weights[kept]
        self.scenarios = left[kept] / self.weights[:, None]

    def _applies(self, test: PlanTest) -> bool:
        evidence = self.evidence
        if evidence.fuel not in test.only or evidence.injection in test.without:
            return False
        if test.upright and evidence.engine.is_flat:
            return False
        if any(c.test.key == test.key for c in self.chosen):
            return False
        return not is_done(test, evidence, self.focus)

    def _is_asked_for(self, test: PlanTest) -> bool:
        evidence, focus = self.evidence, self.focus
        made = {d.test for d in evidence.done if d.outcome != "not_done"}
        chosen = {c.test.key for c in self.chosen}
        in_vain = (
            (test.scope == "cylinder" and not focus.cylinders and not self._is_of_all(test))
            or test.says_as & chosen
            or (test.after and not test.after & made)
            or (test.runs and not may_run(evidence, focus))
            or (test.moves and (len(focus.cylinders) != 1 or is_away(evidence)))
            or (test.is_of_spark and is_oily(evidence, focus))
            or (test.is_rough and focus.spread == "none" and not ROUGH & evidence.happens)
        )
        harms = test.key in _LOCKS and (may_hold_liquid(evidence) or is_timing_in_doubt(evidence))
        if in_vain or harms:
            return False
        return not test.lacking or LACKING[test.lacking](evidence, focus)

    def _is_of_all(self, test: PlanTest) -> bool:
        """Return whether a cylinder's test is made without one: the only coil of a distributor."""
        return test.key == "coil" and self.evidence.ignition == "distributor"

    def _banks_of(self, test: PlanTest) -> set[int]:
        """Return the banks whose plugs a test needs reached; 0 where there is one row."""
        left = cylinders_left(test, self.evidence, self.focus)
        return banks_of(
            test,
            left or self.focus.cylinders,
            self.costs.access_minutes,
            self.evidence.engine.banks,
        )

    def _minutes(self, test: PlanTest) -> float:
        """Return what a test takes, with the plugs that are not reached by then."""
        learnt = self.costs.learnt.get(test.key)
        usual_minutes, _tool = test.handling(has_rail=self.evidence.has_rail)
        beside_minutes, tests = test.beside
        if any(c.test.key in tests for c in self.chosen):
            usual_minutes = beside_minutes
        own = usual_minutes if learnt is None else learnt.minutes
        return own + self._reach_minutes(test)

    def _is_near(self, test: PlanTest) -> bool:
        return self._is_due(test) or self._reach_minutes(test) < LONG_MINUTES

    def _is_due(self, test: PlanTest) -> bool:
        """Return whether what the test takes out comes out anyway."""
        return test.key == "plugs" and are_plugs_due(self.evidence)

    def _cost_minutes(self, test: PlanTest) -> float:
        """Return what a test costs beyond what is done anyway."""
        if self._is_due(test):
            return READ_PLUGS_MINUTES + NOTE_MINUTES
        return self._minutes(test) + self._handling_minutes(test)

    def _handling_minutes(self, test: PlanTest) -> float:
        _minutes, tool = test.handling(has_rail=self.evidence.has_rail)
        is_connected = bool(tool) and tool in self.connected
        return NOTE_MINUTES if is_connected else CONNECT_MINUTES + NOTE_MINUTES

    def _reach_minutes(self, test: PlanTest) -> float:
        lacking = self._banks_of(test) - self.reached
        return reach_minutes(lacking, self.costs.access_minutes, self.evidence.engine.banks)


def _told_bits(shares: Shares, outcomes: _Outcomes) -> Shares:
    """Return by how many bits a test is expected to narrow the causes down, by scenario."""
    joint = shares[:, None, :] * outcomes.chances
    chances = joint.sum(axis=2)
    # mutual information: H(cause) + H(outcome) - H(cause, outcome)
    told = -_n_log_n(shares).sum(axis=1) - _n_log_n(chances).sum(axis=1)
    return np.asarray(np.maximum(0.0, told + _n_log_n(joint).sum(axis=(1, 2))))


def _n_log_n(values: Shares) -> Shares:
    return np.asarray(values * np.log2(np.where(values > 0, values, 1.0)))


def _credit(shares: Shares, outcomes: _Outcomes) -> Shares:
    """Return how likely a test finds the very cause, in parts where it does not show it."""
    found = (outcomes.credit * outcomes.chances).sum(axis=0)
    return np.asarray(shares @ found)


def _separates(shares: Shares, test: PlanTest) -> tuple[str, ...]:
    found = [
        cause
        for cause in CAUSES
        if shares[_INDEX[cause]] >= _SEPARATES_FROM
        and any(f.chance(cause) >= _LIKELY for f in test.finds.values())
    ]
    return tuple(sorted(found, key=lambda cause: -shares[_INDEX[cause]]))
