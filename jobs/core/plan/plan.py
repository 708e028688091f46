"""The guided plan: what may be behind it, with reasons, and which tests come next."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

from jobs.core.cautions import OF_CRANKING, OF_LEAK_DOWN, OF_OPEN_HOLES, cautions_of_test
from jobs.core.plan.choosing import choose
from jobs.core.plan.clues import clues_in
from jobs.core.plan.evidence import Costs, Evidence
from jobs.core.plan.focus import Focus, focus_of
from jobs.core.plan.knowledge import CAUSES, TEST_WORDS, PlanTest
from jobs.core.plan.readings import banks_left, cylinders_left, readings_in
from jobs.core.plan.safety import open_stops
from jobs.core.plan.scoring import Argument, Score, arguments, score
from jobs.core.request import named
from shopdiag.people.core.words import gettext as _

Standing: TypeAlias = Literal["shown", "leading", "possible", "unlikely", "ruled_out"]

LEADS_WITHIN = 2.0
"""Causes within that factor of the first one lead with it."""
POSSIBLE_SHARE = 0.03
MOST_CAUSES = 8
SHORT_LIST = 3
MOST_LEADING = 3


_SWAPPED_LIKE = {"swap_coil": "coil", "swap_plug": "plugs", "swap_injector": "injector"}
"""A part is moved with the cautions of its own test."""
_BESIDE = {
    "leak_down": (OF_LEAK_DOWN, OF_OPEN_HOLES),
    "seats": (OF_LEAK_DOWN,),
    "gauge_dry": (OF_CRANKING, OF_OPEN_HOLES),
    "gauge_wet": (OF_CRANKING, OF_OPEN_HOLES),
}
"""Cautions of work on open holes and of cranking, which every work order carries."""


@dataclass(frozen=True, slots=True)
class PlanCause:
    """One cause as the plan sees it.

    Parameters
    ----------
    share
        Its share of the score, for ranking; no probability that anybody measured.
    settled_by
        The test that shows it or rules it out; empty where none does.
    shows, rules_out
        What would show it, and what would rule it out.
    """

    key: str
    name: str
    group: str
    standing: Standing
    share: float
    supports: tuple[Argument, ...]
    against: tuple[Argument, ...]
    shows: str
    rules_out: str
    source: str
    settled_by: str = ""


@dataclass(frozen=True, slots=True)
class PlannedTest:
    """One test as the plan proposes it.

    Parameters
    ----------
    recorded
        The test of a finding under which its result is recorded; a swap's is `swap`.
    cylinders, banks
        Which it is made on; both empty for the whole engine.
    separates
        Names of the causes that it would find.
    """

    key: str
    recorded: str
    name: str
    tells: str
    cylinders: tuple[int, ...]
    minutes: int
    bits: float
    separates: tuple[str, ...]
    cautions: tuple[str, ...]
    """What to mind, the gravest first."""
    is_for_safety: bool = False
    is_extent: bool = False
    banks: tuple[int, ...] = ()
    """Those that are left, where it was made on another bank."""
    learnt_from: int = 0
    """Orders that its minutes are learnt from; 0 where they are the usual ones."""

    @property
    def where(self) -> str:
        """The test with the cylinders or banks it is made on."""
        if self.banks:
            return _("{test}, bank {bank}").format(
                test=self.name, bank=", ".join(map(str, self.banks))
            )
        if not self.cylinders:
            return self.name
        return _("{test} on {cylinders}").format(test=self.name, cylinders=named(self.cylinders))


@dataclass(frozen=True, slots=True)
class Plan:
    """What may be behind it and what to test next.

    Parameters
    ----------
    causes
        Shown ones first, then by share, then those ruled out.
    tests
        In the order to make them in.
    stop
        Why the engine must not be cranked before the first tests; empty where it may.
    disputed
        Names of causes that one test shows and another rules out.
    """

    focus: Focus
    causes: tuple[PlanCause, ...]
    tests: tuple[PlannedTest, ...]
    stop: str = ""
    disputed: tuple[str, ...] = ()
    has_records: bool = False
    """Whether it rests on more than the complaint and the cranking test."""

    @property
    def leading(self) -> tuple[PlanCause, ...]:
        """Causes that are shown, or else that lead."""
        shown = tuple(c for c in self.causes if c.standing == "shown")
        return shown or tuple(c for c in self.causes if c.standing == "leading")[:MOST_LEADING]

    @property
    def possible(self) -> tuple[PlanCause, ...]:
        """Causes that neither lead nor are out of the question, and those that a test left."""
        rest = [c for c in self.causes if c not in self.leading]
        return tuple(c for c in rest if c.standing in {"leading", "possible"})[:MOST_CAUSES]

    @property
    def ruled_out(self) -> tuple[PlanCause, ...]:
        """Causes that tests rule out."""
        return tuple(c for c in self.causes if c.standing == "ruled_out")

    @property
    def first_tests(self) -> tuple[PlannedTest, ...]:
        """The next tests, as far as a short list shows them."""
        return self.tests[:SHORT_LIST]

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to mind in the tests, each once, in their order."""
        return tuple(dict.fromkeys(text for test in self.tests for text in test.cautions))

    @property
    def is_shown(self) -> bool:
        """Whether a test shows a cause."""
        return any(c.standing == "shown" for c in self.causes)

    @property
    def knows_anything(self) -> bool:
        """Whether anything speaks for one cause more than for another."""
        return any(c.supports or c.against for c in self.causes)


def plan_for(evidence: Evidence, costs: Costs | None = None) -> Plan:
    """Return the plan of an engine.

    Parameters
    ----------
    costs
        What tests take on this engine; usual minutes where None.
    """
    focus = focus_of(evidence)
    clues = clues_in(evidence, focus)
    readings = readings_in(evidence, focus)
    scored = score(evidence.fuel, clues, readings)
    chosen = choose(evidence, focus, scored, costs or Costs())
    return Plan(
        focus=focus,
        causes=tuple(
            _cause(key, scored, *arguments(key, clues, readings, scored.shares))
            for key in _in_order(scored)
        ),
        tests=tuple(
            PlannedTest(
                key=c.test.key,
                recorded="swap" if c.test.moves else c.test.recorded,
                name=_(TEST_WORDS[c.test.key].name),
                tells=_(TEST_WORDS[c.test.key].tells),
                cylinders=_cylinders(c.test, evidence, focus),
                minutes=round(c.minutes),
                bits=round(c.bits, 3),
                separates=tuple(_(CAUSES[key].name) for key in c.separates),
                cautions=_cautions(c.test, evidence.fuel),
                is_for_safety=c.is_for_safety,
                is_extent=c.is_extent,
                banks=banks_left(c.test, evidence),
                learnt_from=_learnt_from(c.test.key, costs),
            )
            for c in chosen
        ),
        stop=_stop(evidence),
        has_records=evidence.has_records,
        disputed=tuple(_(CAUSES[key].name) for key in sorted(scored.disputed)),
    )


@dataclass(frozen=True, slots=True)
class InShort:
    """What a mechanic goes by: the first tests, and the cause that leads, by their keys."""

    first_tests: tuple[str, ...]
    leads: str


def in_short(evidence: Evidence, costs: Costs | None = None) -> InShort:
    """Return the short form of the plan of an engine, without its words and later tests."""
    focus = focus_of(evidence)
    scored = _scored(evidence, focus)
    chosen = choose(evidence, focus, scored, costs or Costs(), most=SHORT_LIST)
    return InShort(
        first_tests=tuple(c.test.key for c in chosen[:SHORT_LIST]),
        leads=_in_order(scored)[0],
    )


def do_tests_show(evidence: Evidence) -> bool:
    """Return whether a test shows a cause."""
    return bool(_scored(evidence, focus_of(evidence)).shown)


def _scored(evidence: Evidence, focus: Focus) -> Score:
    return score(evidence.fuel, clues_in(evidence, focus), readings_in(evidence, focus))


def _cautions(test: PlanTest, fuel: str) -> tuple[str, ...]:
    """Return what to mind in a test, in the words of work orders."""
    said = cautions_of_test(_SWAPPED_LIKE.get(test.key, test.recorded), fuel)
    return (*said, *(_(text) for text in _BESIDE.get(test.key, ())))


def _cylinders(test: PlanTest, evidence: Evidence, focus: Focus) -> tuple[int, ...]:
    """Return which cylinders a test is proposed on: the suspects that it was not made on yet."""
    left = cylinders_left(test, evidence, focus)
    is_begun = len(left) < len(focus.cylinders)
    is_of_one = test.reach == "one" and len(focus.cylinders) == 1
    return left if test.scope != "engine" or is_begun or is_of_one else ()


def _learnt_from(test: str, costs: Costs | None) -> int:
    learnt = costs.learnt.get(test) if costs else None
    return learnt.orders if learnt else 0


def _in_order(scored: Score) -> tuple[str, ...]:
    by_share = sorted(scored.shares, key=lambda c: (c not in scored.shown, -scored.shares[c], c))
    return (*by_share, *sorted(scored.ruled_out))


def _cause(
    key: str, scored: Score, supports: tuple[Argument, ...], against: tuple[Argument, ...]
) -> PlanCause:
    words = CAUSES[key]
    return PlanCause(
        key=key,
        name=_(words.name),
        group=words.group,
        standing=_standing(key, scored),
        share=round(scored.shares.get(key, 0.0), 4),
        supports=supports,
        against=against,
        shows=_(words.shows),
        rules_out=_(words.rules_out),
        source=_(words.source),
        settled_by=scored.shown.get(key, "") or scored.ruled_out.get(key, ""),
    )


def _standing(key: str, scored: Score) -> Standing:
    if key in scored.shown:
        return "shown"
    if key in scored.ruled_out:
        return "ruled_out"
    share, most = scored.shares[key], max(scored.shares.values())
    if share * LEADS_WITHIN >= most:
        return "leading"
    return "possible" if share >= POSSIBLE_SHARE else "unlikely"


def _stop(evidence: Evidence) -> str:
    stops = open_stops(evidence)
    if "liquid" in stops:
        return _("Do not crank: look for liquid first.")
    if "coolant" in stops:
        return _("Do not crank before the cooling system was tested: a cylinder may hold coolant.")
    if "timing" in stops:
        return _("Do not crank before the engine was barred over by hand: valve timing in doubt.")
    return ""
