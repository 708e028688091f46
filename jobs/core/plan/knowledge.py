"""What the plan knows: causes, likelihood ratios of clues, and outcomes of tests.

Words stand in `texts`, numbers in `weights`; both are checked against each other when loaded.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from engines.core.content import ContentError, content

_HERE = Path(__file__).parent
FUELS = frozenset({"petrol", "gas", "diesel"})
GOOD = "good"
"""The outcome that nothing was found."""


@dataclass(frozen=True, slots=True)
class CauseWords:
    """A cause in words: what shows it, what rules it out, who says so."""

    name: str
    group: str
    shows: str
    rules_out: str
    source: str


@dataclass(frozen=True, slots=True)
class ClueWords:
    """A clue in words."""

    words: str


@dataclass(frozen=True, slots=True)
class TestWords:
    """A test in words, and what it decides."""

    name: str
    tells: str


@dataclass(frozen=True, slots=True)
class Prior:
    """How often a cause is met, and after it is shown, what settles its extent.

    Parameters
    ----------
    jobs
        Of a hundred jobs, by common practice.
    only
        Fuels of an engine that can have it.
    extent
        Tests that are still worth making once it is shown.
    """

    jobs: float
    only: frozenset[str] = FUELS
    extent: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """One outcome of a test.

    Parameters
    ----------
    chances
        How likely it is, by cause.
    rest
        How likely with any other cause.
    shows
        Causes of which it shows one.
    acts
        Causes that are put right on it without being shown.
    proves
        Causes of which it makes sure that there is one, without telling which.
    is_open
        Whether another test has to tell apart what it shows.
    in_one_row
        Which outcome it is told as on an engine without banks; empty where it is the same.
    """

    chances: Mapping[str, float]
    rest: float
    shows: frozenset[str] = frozenset()
    acts: frozenset[str] = frozenset()
    proves: frozenset[str] = frozenset()
    is_open: bool = False
    in_one_row: str = ""

    def chance(self, cause: str) -> float:
        """Return how likely the outcome is with a cause."""
        return self.chances.get(cause, self.rest)


@dataclass(frozen=True, slots=True)
class PlanTest:
    """A test: its cost, what it needs, and what its outcomes say.

    Parameters
    ----------
    minutes
        Usual time, without reaching the plugs.
    scope
        `cylinder` where it needs a named one, `any` where any will do, else `engine`.
    reach
        Whose plugs have to be reached: `named`, `all`, `one` (the only one that is named, else
        all), or nobody's (empty).
    recorded
        The test of a finding under which it is recorded.
    moves
        The part that a swap test moves; empty elsewhere.
    without
        Kinds of injection for which it says nothing.
    lacking
        What must be lacking for it to be asked for; empty where it always may be.
    runs
        Whether the engine runs for it.
    tool
        What is connected for it, by a name that tests share; empty where it shares none.
    is_rough
        Whether it is asked for only where the engine runs rough.
    upright
        Whether it says nothing where cylinders lie.
    is_of_spark
        Whether it is about the spark of a cylinder.
    says_as
        Tests that tell the same; it is not asked for beside one of them.
    after
        Tests of which one must be made before it.
    finds, reads
        Outcomes that it is chosen by, and those that a record may say besides.
    clears, good_acts
        Causes that "nothing found" rules out, and that are put right on it.
    beside
        Minutes where one of these tests is made as well, whose parts are in the hand then.
    rail
        Minutes and tool where the fuel pressure is a rail's; None where that makes no difference.
    """

    key: str
    minutes: float
    scope: str
    reach: str
    only: frozenset[str]
    recorded: str
    moves: str
    without: frozenset[str]
    lacking: str
    tool: str
    runs: bool
    is_rough: bool
    upright: bool
    is_of_spark: bool
    says_as: frozenset[str]
    after: frozenset[str]
    finds: Mapping[str, Finding]
    reads: Mapping[str, Finding]
    clears: frozenset[str]
    good_acts: frozenset[str]
    beside: tuple[float, frozenset[str]]
    rail: tuple[float, str] | None

    def handling(self, *, has_rail: bool) -> tuple[float, str]:
        """Return the minutes and the tool of the test on an engine with a rail or without."""
        return self.rail if self.rail and has_rail else (self.minutes, self.tool)

    def found(self, outcome: str) -> Finding | None:
        """Return an outcome by its name; None where nothing was found or it says nothing."""
        return self.finds.get(outcome) or self.reads.get(outcome)

    def chance(self, outcome: str, cause: str) -> float:
        """Return how likely an outcome is with a cause."""
        if outcome == GOOD:
            return max(0.01, 1.0 - sum(f.chance(cause) for f in self.finds.values()))
        finding = self.found(outcome)
        return 1.0 if finding is None else finding.chance(cause)


def _numbers(name: str) -> dict[str, Any]:
    return tomllib.loads((_HERE / "weights" / name).read_text(encoding="utf-8"))


def _finding(table: Mapping[str, Any], causes: Mapping[str, Any], where: str) -> Finding:
    sets = {k: frozenset(table.get(k, ())) for k in ("shows", "acts", "proves")}
    told = {"rest", "is_open", "in_one_row"}
    chances = {k: float(v) for k, v in table.items() if k not in told and k not in sets}
    _check_known(set(chances).union(*sets.values()), causes, where)
    return Finding(
        MappingProxyType(chances),
        float(table["rest"]),
        **sets,
        is_open=bool(table.get("is_open", False)),
        in_one_row=table.get("in_one_row", ""),
    )


def _check_known(keys: set[str], known: Mapping[str, Any], where: str) -> None:
    unknown = sorted(keys - set(known))
    if unknown:
        raise ContentError(f"{where} names “{unknown[0]}”, which nothing knows.")


def _test(key: str, table: dict[str, Any]) -> PlanTest:
    where = f"outcomes.toml: [{key}]"
    good = table.get("good", {})
    clears, good_acts = (frozenset(good.get(k, ())) for k in ("clears", "acts"))
    _check_known(set(clears | good_acts), CAUSES, where)
    rail = table.get("rail")
    beside = table.get("beside", {"minutes": table["minutes"], "tests": ()})
    found = {
        kind: MappingProxyType(
            {
                name: _finding(t, CAUSES, f"{where} {name}")
                for name, t in table.get(kind, {}).items()
            }
        )
        for kind in ("finds", "reads")
    }
    return PlanTest(
        key=key,
        minutes=float(table["minutes"]),
        scope=table["for"],
        reach=table.get("reach", ""),
        only=frozenset(table.get("only", FUELS)),
        recorded=table.get("recorded", key),
        moves=table.get("moves", ""),
        without=frozenset(table.get("without", ())),
        lacking=table.get("lacking", ""),
        tool=table.get("tool", ""),
        runs=bool(table.get("runs", False)),
        is_rough=bool(table.get("is_rough", False)),
        upright=bool(table.get("upright", False)),
        is_of_spark=bool(table.get("is_of_spark", False)),
        says_as=frozenset(table.get("says_as", ())),
        after=frozenset(table.get("after", ())),
        finds=found["finds"],
        reads=found["reads"],
        clears=clears,
        good_acts=good_acts,
        beside=(float(beside["minutes"]), frozenset(beside["tests"])),
        rail=(float(rail["minutes"]), rail["tool"]) if rail else None,
    )


def _ratios(tables: Mapping[str, Any]) -> dict[str, Mapping[str, float]]:
    """Return ratios by clue; a clue that counts as another one names it under `as`."""
    return {clue: tables[table["as"]] if "as" in table else table for clue, table in tables.items()}


CAUSES: Mapping[str, CauseWords] = content(_HERE / "texts" / "causes.toml", CauseWords)
CLUES: Mapping[str, ClueWords] = content(_HERE / "texts" / "clues.toml", ClueWords)
TEST_WORDS: Mapping[str, TestWords] = content(_HERE / "texts" / "tests.toml", TestWords)
PRIORS: Mapping[str, Prior] = MappingProxyType(
    {
        cause: Prior(
            float(table["jobs"]),
            frozenset(table.get("only", FUELS)),
            tuple(table.get("extent", ())),
        )
        for cause, table in _numbers("priors.toml").items()
    }
)
RATIOS: Mapping[str, Mapping[str, float]] = MappingProxyType(_ratios(_numbers("ratios.toml")))
TESTS: Mapping[str, PlanTest] = MappingProxyType(
    {key: _test(key, table) for key, table in _numbers("outcomes.toml").items()}
)


def ratio(clue: str, cause: str) -> float:
    """Return how many times likelier a clue is with a cause than in the usual job."""
    table = RATIOS[clue]
    return float(table.get(cause, table.get("rest", 1.0)))


def _check() -> None:
    _check_known(set(PRIORS), CAUSES, "priors.toml")
    _check_known(set(CAUSES), PRIORS, "causes.toml")
    _check_known(set(RATIOS), CLUES, "ratios.toml")
    _check_known(set(TESTS), TEST_WORDS, "outcomes.toml")
    for clue, table in RATIOS.items():
        _check_known(set(table) - {"rest"}, CAUSES, f"ratios.toml: [{clue}]")


_check()
