"""What a person may put right about a run, and what was changed so far."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from shopdiag.people.core.numerals import written
from traces.core.report import Report
from traces.core.setup import AnalysisSetup, Fuel, SpanS, SyncSetup
from traces.core.setup import edit_changes as hand_changes
from traces.models import CaptureSetup


@dataclass(frozen=True, slots=True)
class Change:
    """One change by hand on the way to a set-up: what, who, when."""

    words: str
    who: str
    at: datetime


@dataclass(frozen=True, slots=True)
class CycleSpan:
    """An engine cycle that may be left out."""

    number: int
    from_s: float
    to_s: float

    @property
    def value(self) -> str:
        """The cycle as a form sends it."""
        return span_value((self.from_s, self.to_s))

    @property
    def words(self) -> str:
        """The cycle for a reader."""
        return _("Cycle %(number)s: %(from_s)s to %(to_s)s s") % {
            "number": self.number,
            "from_s": written(f"{self.from_s:.2f}"),
            "to_s": written(f"{self.to_s:.2f}"),
        }


@dataclass(frozen=True, slots=True)
class HandState:
    """A run as a hand finds it.

    Parameters
    ----------
    analysis
        Its set-up.
    changes
        What was changed on the way to it, first to last.
    redo
        What was taken back last, in words; "" where nothing was.
    cycles
        Engine cycles that figures are taken from.
    labelled
        Whether anything ties humps to cylinders, so that labels can be moved.
    inverted
        Whether the current's sign was turned.
    other_sync
        The sync that an earlier set-up of the chain used and this one does not.
    own_fuel
        The fuel where it is another than the engine's: the vehicle's own stays with it.
    """

    analysis: AnalysisSetup
    changes: tuple[Change, ...]
    redo: str
    cycles: tuple[CycleSpan, ...]
    labelled: bool
    inverted: bool
    other_sync: SyncSetup | None
    own_fuel: Fuel | None = None

    @property
    def undo(self) -> str:
        """What undoing takes back, in words; "" where there is nothing."""
        return self.changes[-1].words if self.changes else ""


def hand_state(setup: CaptureSetup, report: Report) -> HandState:
    """Return a run as a hand finds it; one query, however long the chain."""
    setups = _setups(setup.capture_id)
    chain = _chain(setup, setups)
    undone = _undone_after(setup, setups)
    analysis = setup.analysis
    syncs = (s.analysis.sync for s in reversed(chain))
    return HandState(
        analysis=analysis,
        changes=tuple(
            Change(s.change, s.created_by.name, s.created_at)
            for s in chain
            if s.came_from_id is not None
        ),
        redo=undone.change if undone else "",
        cycles=cycles_of(report),
        labelled=bool(report.estimates) and all(f.code != "sync-missing" for f in report.findings),
        inverted=report.inverted,
        other_sync=None if analysis.sync else next((s for s in syncs if s), None),
        own_fuel=analysis.fuel if setup.engine and setup.engine.fuel != analysis.fuel else None,
    )


def by_hand_words(setup: CaptureSetup) -> str:
    """Return all that a hand changed; "" where nothing.

    A set-up may come in with changes: from a program, or with a colleague's case.
    """
    if setup.came_from_id is None:
        return hand_changes.by_hand_words(setup.analysis, setup.analysis)
    first = _chain(setup, _setups(setup.capture_id))[0]
    return hand_changes.by_hand_words(first.analysis, setup.analysis)


def undone_after(setup: CaptureSetup) -> CaptureSetup | None:
    """Return the set-up that was left by undoing to this one; None where none was."""
    return _undone_after(setup, _setups(setup.capture_id))


def cycles_of(report: Report) -> tuple[CycleSpan, ...]:
    """Return the engine cycles that figures are taken from, numbered over the whole crank.

    Runs from before cycles were told have humps alone: a cycle lasts there from its first to
    the next one's.
    """
    if report.engine_cycles:
        numbered = enumerate(report.engine_cycles, start=1)
        return tuple(CycleSpan(number, c.from_s, c.to_s) for number, c in numbered if c.used)
    first: dict[int, float] = {}
    for hump in report.humps:
        first.setdefault(hump.cycle, hump.at_s)
    ends = [*first.values()][1:]
    return tuple(
        CycleSpan(cycle, from_s, to_s)
        for (cycle, from_s), to_s in zip(first.items(), ends, strict=False)
    )


def span_value(span_s: SpanS) -> str:
    """Return a stretch as a form sends it."""
    return f"{span_s[0]!r}:{span_s[1]!r}"


def _setups(capture_id: int) -> dict[int, CaptureSetup]:
    setups = CaptureSetup.objects.filter(capture_id=capture_id).select_related("created_by__user")
    return {s.pk: s for s in setups.order_by("pk")}


def _chain(setup: CaptureSetup, setups: dict[int, CaptureSetup]) -> list[CaptureSetup]:
    """Return the set-ups that lead to this one, itself the last."""
    chain = [setups[setup.pk]]
    while (before := chain[0].came_from_id) is not None:
        chain.insert(0, setups[before])
    return chain


def _undone_after(setup: CaptureSetup, setups: dict[int, CaptureSetup]) -> CaptureSetup | None:
    """Find what was changed from a set-up of which this one is a later copy."""
    alike = {
        s.pk
        for s in setups.values()
        if s.pk < setup.pk
        and (s.engine_id, s.change) == (setup.engine_id, setup.change)
        and s.settings == setup.settings
    }
    left = [s for s in setups.values() if s.came_from_id in alike and s.pk < setup.pk]
    return left[-1] if left else None
