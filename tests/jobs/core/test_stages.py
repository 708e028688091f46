"""Which way a visit may go, and what has to be done first."""

from dataclasses import replace
from itertools import pairwise

import pytest

from jobs.core.stages import LABELS, ORDER, Stage, VisitFacts, moves_from, refusal
from tests.wording import says_only

NOTHING = VisitFacts(
    has_complaint=False,
    has_triage=False,
    has_judged_run=False,
    has_judgement=False,
    open_work_orders=0,
    work_orders=0,
    has_cause=False,
    has_correction=False,
    is_verified=False,
)
EVERYTHING = replace(
    NOTHING,
    has_complaint=True,
    has_triage=True,
    has_judged_run=True,
    has_judgement=True,
    work_orders=1,
    has_cause=True,
    has_correction=True,
    is_verified=True,
    has_consent=True,
)


def test_the_order_is_that_of_the_job_and_every_stage_has_a_name():
    assert ORDER[0] is Stage.INTAKE
    assert ORDER[-1] is Stage.CLOSED
    assert set(LABELS) == set(ORDER)


@pytest.mark.parametrize(("stage", "following"), list(pairwise(ORDER)))
def test_the_straight_way_is_open_when_everything_is_done(stage, following):
    assert following in moves_from(stage)
    assert refusal(stage, following, EVERYTHING) is None


@pytest.mark.parametrize(("stage", "following"), list(pairwise(ORDER)))
def test_nothing_done_stops_every_step_with_one_sentence(stage, following):
    sentence = refusal(stage, following, NOTHING)
    assert sentence
    assert sentence.endswith(".")
    assert sentence.count(". ") == 0


@pytest.mark.parametrize(
    ("stage", "to", "missing"),
    [
        (Stage.INTAKE, Stage.TRIAGE, {"has_complaint": False}),
        (Stage.TRIAGE, Stage.TEST, {"has_triage": False}),
        (Stage.TRIAGE, Stage.DECIDE, {"has_triage": False}),
        (Stage.DECIDE, Stage.WORK, {"work_orders": 0}),
        (Stage.DECIDE, Stage.HAND_BACK, {"has_judgement": False}),
        (Stage.WORK, Stage.VERIFY, {"open_work_orders": 1}),
        (Stage.WORK, Stage.VERIFY, {"has_consent": False}),
        (Stage.DECIDE, Stage.VERIFY, {"has_consent": False}),
        (Stage.WORK, Stage.HAND_BACK, {"open_work_orders": 1}),
        (Stage.HAND_BACK, Stage.CLOSED, {"has_cause": False}),
        (Stage.HAND_BACK, Stage.CLOSED, {"has_correction": False}),
    ],
)
def test_one_thing_missing_stops_the_step_that_needs_it(stage, to, missing):
    assert refusal(stage, to, EVERYTHING) is None
    assert refusal(stage, to, replace(EVERYTHING, **missing))


@pytest.mark.parametrize("stage", [s for s in ORDER if s is not Stage.CLOSED])
def test_back_is_always_open_and_asks_nothing(stage):
    for earlier in ORDER[: ORDER.index(stage)]:
        assert refusal(stage, earlier, NOTHING) is None


def test_a_closed_job_opens_again_at_delivery_only():
    assert moves_from(Stage.CLOSED) == (Stage.HAND_BACK,)
    assert refusal(Stage.CLOSED, Stage.HAND_BACK, NOTHING) is None
    assert says_only(
        refusal(Stage.CLOSED, Stage.TRIAGE, EVERYTHING),
        "stages.visit-does-not-go",
        here="Closed",
        there="Triage",
    )


@pytest.mark.parametrize(
    ("stage", "to"),
    [
        (Stage.INTAKE, Stage.DECIDE),
        (Stage.INTAKE, Stage.CLOSED),
        (Stage.TRIAGE, Stage.WORK),
        (Stage.TEST, Stage.HAND_BACK),
        (Stage.VERIFY, Stage.CLOSED),
    ],
)
def test_stages_are_not_jumped(stage, to):
    assert to not in moves_from(stage)
    why = refusal(stage, to, EVERYTHING)
    assert says_only(why, "stages.visit-does-not-go", here=LABELS[stage], there=LABELS[to])
