"""Everything a work order says before anybody typed a word, from a signed verdict."""

from dataclasses import dataclass, replace

from django.utils.translation import gettext, gettext_lazy

from engines.core.positions import place_words
from engines.models import Engine
from jobs.core.after_repair import (
    checks_after_repair,
    parts_found_bad,
    repair_request,
    stop_repair_when,
)
from jobs.core.cautions import work_cautions
from jobs.core.gauge import GaugeRule, default_rule
from jobs.core.groups import FaultGroup, group_request, group_tests
from jobs.core.patterns import HIGH, Pattern
from jobs.core.plan import Plan, by_plan
from jobs.core.request import (
    SignedAs,
    disproof,
    request_line,
    which_cylinder,
)
from jobs.core.tests_wanted import (
    Circumstances,
    all_wanted,
    beginning_with,
    recorded_as,
    timing_in_doubt,
)
from jobs.core.wanted_test_texts import (
    BAR_FOR_TIMING,
    COOLANT,
    TIMING,
    WantedTest,
)
from jobs.models import (
    Complaint,
    Judgement,
    Triage,
    Vehicle,
    Visit,
    VisitCapture,
)
from jobs.selectors.bad_parts import parts_found
from jobs.selectors.captures import engine_of, fuel_of, shows_nothing, visit_runs
from jobs.selectors.consents import (
    consent_standing,
    minutes_authorised,
    repair_agreed,
    yes_falls_short,
)
from jobs.selectors.found_elsewhere import signed_and_bad, to_repair
from jobs.selectors.in_cylinder import cylinders_in_turn, measured_words
from jobs.selectors.limit_place import LimitPlace
from jobs.selectors.limits_in_tests import with_limits
from jobs.selectors.misfires import ranking_of
from jobs.selectors.order_draft_words import (
    disproof_words,
    firing_source_of,
    found_bad_words,
    how_even_words,
    how_low_words,
    patterns_told,
    pooled_words_of,
    repair_scope,
    scope_of_work,
    together_of,
    which_misfires,
)
from jobs.selectors.patterns import PatternCard, access_of, cards_of, circumstances_of, seen_in
from jobs.selectors.plan import plan_signed
from jobs.selectors.running import idling_words, running_beside
from jobs.selectors.tests_done import tests_done
from jobs.selectors.triage import fluids_in
from traces.core.report import bank_line
from traces.selectors.hand import by_hand_words

STOP_AND_CALL = gettext_lazy(
    "The authorised time is used up, anything beyond the tests has to come apart, "
    "or liquid comes out of a cylinder."
)
_SIGNED_AS: dict[str, SignedAs] = {
    Judgement.Kind.ACCEPTED: "accepted",
    Judgement.Kind.OVERRULED: "overruled",
    Judgement.Kind.WITHOUT_RUN: "without",
}


@dataclass(frozen=True, slots=True)
class OrderDraft:
    """A work order's content as it follows from the verdict; the person edits the rest."""

    request: str
    cylinders: tuple[int, ...]
    places: tuple[dict[str, int | str], ...]
    firing_order: str
    firing_source: str
    patterns: tuple[PatternCard, ...]
    tests: tuple[WantedTest, ...]
    tests_done: tuple[str, ...]
    done_keys: frozenset[str]
    cautions: tuple[str, ...]
    sync_proof: str
    how_low: str
    which: str
    disproof: str
    gauge_rule: GaugeRule
    scope: str
    scope_minutes: int | None
    stop_and_call: str
    engine: Engine | None
    is_repair: bool = False
    """Whether the order carries out a repair the customer agreed to."""
    yes_falls_short: str = ""
    """Why the customer's yes does not make it one; empty where there is none, or it does."""
    inference: str = ""
    """Which of several fitting sets the misfires point at, marked as an inference."""
    pooled: str = ""
    """What several captures say together; empty where there is one or none."""
    by_hand: str = ""
    """What a person changed by hand before the capture was judged so."""
    is_beyond: bool = False
    """Whether no compression fault was found, so that no cylinder is said to be low."""
    banks: str = ""
    """Bank against bank; empty where the capture does not compare them."""

    idling: str = ""
    """What the idling engine says beside the cranked one; empty where it was not recorded."""

    @property
    def confidence(self) -> str:
        """The two confidences, a line each, what a hand changed, what captures say together."""
        lines = (
            (
                gettext("Compression: %(words)s")
                if self.is_beyond
                else gettext("How low: %(words)s"),
                self.how_low,
            ),
            (gettext("Bank against bank: %(words)s"), self.banks),
            (gettext("Which cylinder: %(words)s"), self.which),
            (gettext("By hand: %(words)s"), self.by_hand),
            ("%(words)s", self.inference),
            (gettext("Captures together: %(words)s"), self.pooled),
            (gettext("Idling: %(words)s"), self.idling),
        )
        return "\n".join(line % {"words": words} for line, words in lines if words)


def order_draft(judgement: Judgement) -> OrderDraft:
    """Return the content of a work order on `judgement`."""
    visit, run = judgement.visit, judgement.run
    report = run.report if run else None
    engine = engine_of(visit, run)
    fuel = fuel_of(visit, run)
    signed = tuple(sorted(judgement.cylinders))
    beyond = judgement.is_beyond_compression
    # Of a fault that is sought elsewhere no cylinder is low: the pattern is that of none.
    low = () if beyond else signed
    together = together_of(visit, run)
    seen = seen_in(visit, run, low, together)
    access = access_of(visit, run, seen)
    on = replace(circumstances_of(visit, run, fuel, together), access=access)
    cards = cards_of(seen, on)
    in_doubt = timing_in_doubt([c.pattern for c in cards], on)
    order, places, high = seen.order, seen.places or {}, tuple(sorted(seen.high))
    patterns = [c.pattern for c in cards]
    pattern = next((p for p in patterns if p not in HIGH), Pattern.NONE)
    candidates = report.candidates if report else ()
    ranking = ranking_of(visit, candidates, run)
    rule = default_rule(fuel).at(visit.shop.altitude_m)
    signed_as = _SIGNED_AS[judgement.kind]
    complaint = Complaint.objects.filter(visit=visit).first()
    running = running_beside(visit, signed=judgement)
    in_turn = cylinders_in_turn(visit)
    done_keys, done = tests_done(visit, running, in_turn)
    agreed = repair_agreed(judgement)
    named_in_order = to_repair(judgement) if agreed else signed
    found_bad = signed_and_bad(judgement) if agreed else ()
    bad_parts = parts_found(visit) if agreed else ()
    if not named_in_order:
        named_in_order = tuple(sorted({part.cylinder for part in bad_parts}))
    companions = {c: order.companion_of(c) if order else None for c in low}
    tests = (
        checks_after_repair(
            judgement.group,
            named_in_order,
            was_captured=_was_captured(visit),
            was_shown_idling=running is not None and bool(running.burning_badly),
        )
        if agreed
        else _beyond_tests(judgement, patterns, on, plan_signed(judgement))
        if beyond
        else beginning_with(ranking, low, all_wanted(patterns, on))
    )
    return OrderDraft(
        request=repair_request(named_in_order, agreed.scope, bad_parts)
        if agreed
        else group_request(
            judgement.group,
            signed,
            may_hold_liquid=bool(high) or seen.high_unnumbered,
            high=high,
            high_are_companions=any(c.pattern is Pattern.HIGH_COMPANIONS for c in cards),
            timing_in_doubt=in_doubt,
            is_shown_even=shows_nothing(run),
        )
        if beyond
        else request_line(
            low,
            pattern,
            high,
            high_are_companions=any(c.pattern is Pattern.HIGH_COMPANIONS for c in cards),
            high_unnumbered=seen.high_unnumbered,
            coolant_first=on.coolant_first,
            timing_in_doubt=in_doubt,
            sets=candidates,
        ),
        cylinders=named_in_order,
        places=tuple(
            {"cylinder": c, "words": place_words(places, c) if c in places else ""}
            for c in named_in_order
        ),
        firing_order=str(order) if order else "",
        firing_source=firing_source_of(run, engine),
        # what to look for is settled once the customer agreed
        patterns=() if agreed else patterns_told(cards, report),
        tests=with_limits(tests, LimitPlace(visit.shop, fuel, engine, visit)),
        tests_done=done,
        idling=f"{idling_words(running)} {measured_words(in_turn)}".strip(),
        done_keys=done_keys,
        cautions=work_cautions(
            fuel,
            visit.vehicle.drive,
            stop_start=visit.vehicle.stop_start,
            fluids=fluids_in(Triage.objects.filter(visit=visit).first()),
            any_high=bool(high) or seen.high_unnumbered,
            timing_in_doubt=in_doubt,
            tests=[recorded_as(test.key) for test in tests] if beyond else (),
        ),
        sync_proof=str(report.sync_note) if report else "",
        how_low=""
        if found_bad and report is None
        else how_even_words(run)
        if beyond
        else how_low_words(report, low, signed_as),
        which=parts_found_bad(bad_parts)
        if bad_parts and beyond
        else found_bad_words(found_bad)
        if found_bad
        else which_misfires(signed)
        if beyond
        else which_cylinder(low, candidates, signed_as),
        disproof=""
        if agreed
        else disproof_words(cards, low)
        or disproof(
            low,
            companions,
            is_fault=judgement.mechanical == Judgement.Mechanical.YES,
        ),
        gauge_rule=rule,
        scope=repair_scope(agreed)
        if agreed
        else scope_of_work(complaint, None if beyond else access.needed_minutes),
        scope_minutes=minutes_authorised(visit, agreed),
        stop_and_call=stop_repair_when(
            judgement.group, may_hold_liquid=bool(high) or seen.high_unnumbered
        )
        if agreed
        else str(STOP_AND_CALL),
        engine=engine,
        is_beyond=beyond,
        is_repair=agreed is not None,
        yes_falls_short="" if agreed else yes_falls_short(consent_standing(visit)),
        inference=ranking.headline if ranking else "",
        pooled=pooled_words_of(together, low),
        by_hand=by_hand_words(run.setup) if run else "",
        banks=bank_line(report) if report else "",
    )


def _beyond_tests(
    judgement: Judgement, patterns: list[Pattern], on: Circumstances, plan: Plan
) -> tuple[WantedTest, ...]:
    """Return the tests of the signed group; liquid, lost coolant and valve timing come first.

    The plan puts them in order; where the group is not settled, it adds its own first ones.

    Of valve timing only what makes cranking safe: the diagnostician seeks the fault elsewhere.
    """
    of_high = {t.key for t in all_wanted([p for p in patterns if p in HIGH], on)}
    safe = of_high | {COOLANT.key, TIMING.key, BAR_FOR_TIMING.key}
    doubted = timing_in_doubt(patterns, on)
    asked = [p for p in patterns if p in HIGH or timing_in_doubt([p])]
    first = [t for t in all_wanted(asked, on) if t.key in safe or not doubted]
    keys = {t.key for t in first}
    of_group = by_plan(
        group_tests(judgement.group, on.fuel, on.codes, on.injection),
        plan,
        on,
        takes_in=judgement.group is FaultGroup.UNSETTLED,
    )
    return (
        *first,
        *(t for t in of_group if t.key not in keys),
    )


def _was_captured(visit: Visit) -> bool:
    """Return whether a capture before the repair was judged that one after it compares with."""
    of_diagnosis = visit_runs(visit).filter(
        capture__visit_capture__purpose=VisitCapture.Purpose.DIAGNOSIS,
        capture__visit_capture__aside_why="",
    )
    applies = visit.vehicle.drive != Vehicle.Drive.TRACTION
    return applies and of_diagnosis.exclude(verdict__in=["", "not judged"]).exists()
