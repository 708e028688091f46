"""How calls of the analysis fared on the shop's own engines, and what its causes were.

Calls are held against gauge and leak-down. A repair that holds is no such measurement: it could
only ever confirm, so it counts for causes and not for calls.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias, TypeVar

from jobs.core.customer_words import CylindersTested
from jobs.core.proportion import Proportion
from traces.core.signal_kinds import Signal

GAUGE_TESTS = frozenset({"gauge_dry", "leak_down"})
"""Tests that say with a figure whether a cylinder holds compression."""
LEAST_CHECKED = 5
"""Fewer checked calls say too little: of 5 that all held, the interval still begins at 57 %."""

Called: TypeAlias = Literal["suspect", "watch", "sound"]
_CALLED: tuple[Called, ...] = ("suspect", "watch", "sound")
_Key = TypeVar("_Key")


@dataclass(frozen=True, slots=True)
class CallChecked:
    """One cylinder of one visit: what it was called, and whether it was found bad.

    Parameters
    ----------
    visit, cylinder
        Together they count once, however often the cylinder was captured or measured.
    engine
        The engine it was judged as; None where no known one was chosen.
    signal
        What was captured.
    """

    visit: int
    cylinder: int
    engine: int | None
    signal: Signal
    called: Called
    is_bad: bool


def calls_checked(
    visit: int,
    engine: int | None,
    signal: Signal,
    calls: Mapping[int, str],
    tested: CylindersTested,
) -> tuple[CallChecked, ...]:
    """Return the calls of one capture that gauge or leak-down checked.

    Parameters
    ----------
    calls
        What each cylinder was called; others than suspect, watch and sound say nothing.
    tested
        What gauge and leak-down found of the engine before its repair.
    """
    measured = tested.bad | tested.good
    return tuple(
        CallChecked(visit, cylinder, engine, signal, called, is_bad=cylinder in tested.bad)
        for cylinder in sorted(calls)
        if cylinder in measured
        for called in _CALLED
        if called == calls[cylinder]
    )


@dataclass(frozen=True, slots=True)
class HitRate:
    """How many calls of each kind held, of those checked.

    Parameters
    ----------
    suspect, watch
        Found bad, of those called so.
    sound
        Found good, of those called good.
    """

    suspect: Proportion
    watch: Proportion
    sound: Proportion

    @property
    def checked(self) -> int:
        """How many calls were checked."""
        return self.suspect.total + self.watch.total + self.sound.total


def hit_rate(checked: Iterable[CallChecked]) -> HitRate:
    """Return how calls fared; a cylinder of a visit counts once."""
    once = {(call.visit, call.cylinder): call for call in checked}.values()

    def held(called: Called, *, is_bad: bool) -> Proportion:
        of_kind = [call for call in once if call.called == called]
        return Proportion(sum(call.is_bad == is_bad for call in of_kind), len(of_kind))

    return HitRate(
        suspect=held("suspect", is_bad=True),
        watch=held("watch", is_bad=True),
        sound=held("sound", is_bad=False),
    )


def hit_rates(
    checked: Iterable[CallChecked], key: Callable[[CallChecked], _Key]
) -> dict[_Key, HitRate]:
    """Return how calls fared by `key`, such as the engine, the most checked first."""
    groups: dict[_Key, list[CallChecked]] = {}
    for call in checked:
        groups.setdefault(key(call), []).append(call)
    rates = {one: hit_rate(calls) for one, calls in groups.items()}
    return dict(sorted(rates.items(), key=lambda pair: -pair[1].checked))


@dataclass(frozen=True, slots=True)
class JobFinished:
    """One delivered job.

    Parameters
    ----------
    group
        Where the fault lay, as signed last; empty where nothing was signed or it was not settled.
    is_proven
        Whether the repair was verified, and nobody says that the vehicle came back for it.
    """

    visit: int
    engine: int | None
    group: str
    is_proven: bool


@dataclass(frozen=True, slots=True)
class CauseCount:
    """How many finished jobs of one engine had a cause of one group.

    Parameters
    ----------
    found
        Those signed so, of all finished jobs of the engine.
    proven
        Those among them whose repair holds.
    """

    engine: int | None
    group: str
    found: Proportion
    proven: int


def cause_counts(jobs: Iterable[JobFinished]) -> tuple[CauseCount, ...]:
    """Return causes by engine, engines with most jobs first; a visit counts once."""
    once = {job.visit: job for job in jobs}.values()
    of_engine: dict[int | None, list[JobFinished]] = {}
    for job in once:
        of_engine.setdefault(job.engine, []).append(job)
    counts = [
        _count(engine, group, finished)
        for engine, finished in of_engine.items()
        for group in sorted({job.group for job in finished if job.group})
    ]
    return tuple(
        sorted(counts, key=lambda c: (-c.found.total, c.engine is None, c.engine, -c.found.count))
    )


def _count(engine: int | None, group: str, finished: list[JobFinished]) -> CauseCount:
    of_group = [job for job in finished if job.group == group]
    return CauseCount(
        engine=engine,
        group=group,
        found=Proportion(len(of_group), len(finished)),
        proven=sum(job.is_proven for job in of_group),
    )
