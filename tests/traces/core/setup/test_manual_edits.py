"""What a person changes by hand: what may be entered, and how it is kept."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engines.core.firing import FiringOrder
from tests.traces.core.synthetic import Crank
from tests.wording import named, says
from traces.core.report.wording import setup_words
from traces.core.setup.analysis_setup import AnalysisSetup, SetupError
from traces.core.setup.manual_edits import (
    NO_EDITS,
    ManualEdits,
    ManualMarks,
    edits_words,
    is_left_out,
    labels_moved,
)

FOUR = Crank().setup()
TIMES_S = st.floats(-1e4, 1e4, allow_nan=False).map(lambda v: round(v, 6))


@st.composite
def _spans(draw) -> tuple[tuple[float, float], ...]:
    edges = sorted(draw(st.sets(TIMES_S, max_size=12)))
    return tuple(zip(edges[::2], edges[1::2], strict=False))


@st.composite
def hands(draw) -> ManualEdits:
    span = draw(st.none() | st.tuples(TIMES_S, TIMES_S).filter(lambda s: s[0] < s[1]))
    times = sorted(draw(st.sets(TIMES_S, max_size=4)))
    marks = None
    if times:
        event = draw(st.sampled_from(["ignition", "injector", "cam", "tdc"]))
        marks = ManualMarks(
            tuple(times), draw(st.integers(1, 4)), event, draw(st.sampled_from([360, 720]))
        )
    return ManualEdits(draw(st.integers(-16, 16)), span, draw(_spans()), marks)


@given(hand=hands())
def test_what_was_changed_survives_json(hand: ManualEdits) -> None:
    setup = replace(FOUR, hand=hand)
    assert AnalysisSetup.from_json(json.loads(json.dumps(setup.to_json()))) == setup


def test_a_set_up_from_before_loads_unchanged() -> None:
    old = FOUR.to_json()
    del old["hand"]
    assert AnalysisSetup.from_json(old).hand == NO_EDITS
    assert NO_EDITS.is_empty
    assert not replace(NO_EDITS, shift=1).is_empty


@given(places=st.lists(st.integers(-20, 20), max_size=6), count=st.integers(1, 16))
def test_moves_add_up_and_a_round_is_none(places: list[int], count: int) -> None:
    hand = NO_EDITS
    for step in places:
        hand = hand.moved(step, count)
    assert hand == NO_EDITS.moved(sum(places), count)
    assert hand.moved(count, count) == hand
    assert abs(hand.shift) <= count / 2


@given(first=st.integers(-9, 9), then=st.integers(-9, 9))
def test_moving_the_order_composes(first: int, then: int) -> None:
    uneven = FiringOrder.parse("1-2-3-4-5-6", "0,150,240,390,480,630")
    moved = labels_moved(labels_moved(uneven, first), then)
    assert moved == labels_moved(uneven, first + then)
    assert labels_moved(uneven, 6) == uneven


@pytest.mark.parametrize(
    ("data", "word"),
    [
        ({"span_s": [2.0, 2.0]}, named("manual_edits.stretch-must-end-after")),
        ({"span_s": [1.0, float("nan")]}, named("manual_edits.time-must-number-seconds")),
        ({"span_s": [1.0, 1e300]}, named("manual_edits.time-must-number-seconds")),
        ({"span_s": [1, 10**400]}, named("manual_edits.time-must-number-seconds")),
        ({"span_s": [1.0]}, named("manual_edits.stretch-from-seconds")),
        ({"span_s": ["1", "2"]}, named("manual_edits.time-of-stretch-number")),
        ({"left_out_s": [[1, 2], [1.5, 3]]}, named("manual_edits.stretches-left-out-must")),
        ({"left_out_s": 4}, named("manual_edits.stretches-left-out-list")),
        (
            {"left_out_s": [[i, i + 0.5] for i in range(201)]},
            named("manual_edits.most-cycles-can-left", most_left_out=200),
        ),
        ({"shift": 1.5}, named("manual_edits.must-whole-number")),
        ({"shift": 17}, named("manual_edits.labels-can-moved-most", most_cylinders=16)),
        ({"marks": {"times_s": [], "cylinder": 1}}, named("manual_edits.mark-least-one-event")),
        ({"marks": {"times_s": [1.0], "cylinder": "1"}}, named("manual_edits.must-whole-number")),
        (
            {"marks": {"times_s": [1.0], "cylinder": 9}},
            named("analysis_setup.cylinder-marked-hand-not"),
        ),
        (
            {"marks": {"times_s": [1.0, 1.0], "cylinder": 1}},
            named("manual_edits.two-events-marked-same"),
        ),
        (
            {"marks": {"times_s": [1.0], "cylinder": 1, "event": "smoke"}},
            named("manual_edits.event-hand-ignition-injector"),
        ),
        (
            {"marks": {"times_s": [1.0], "cylinder": 1, "every_deg": 180}},
            named("manual_edits.events-come-every-360"),
        ),
        (
            {"marks": {"times_s": list(range(51)), "cylinder": 1}},
            named("manual_edits.mark-most-events-one", most_marks=50),
        ),
        ({"marks": [1.0]}, named("manual_edits.events-hand-need-times")),
        ({"span": [1, 2]}, named("manual_edits.hand-there-shift-span")),
        ([], named("manual_edits.hand-there-shift-span")),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(data: object, word: str) -> None:
    with pytest.raises(SetupError) as refused:
        replace(FOUR, hand=ManualEdits.from_json(data))
    assert says(refused.value, word)
    assert str(refused.value).endswith(".")


def test_marks_may_be_entered_in_any_order() -> None:
    hand = ManualEdits.from_json({"marks": {"times_s": [2, 1.5], "cylinder": 3}})
    assert hand.marks == ManualMarks((1.5, 2.0), 3)


def test_stretches_left_out_are_joined() -> None:
    hand = NO_EDITS.without((1.0, 2.0)).without((3.0, 4.0)).without((1.5, 3.5))
    assert hand.left_out_s == ((1.0, 4.0),)
    assert NO_EDITS.without((3.0, 4.0)).without((2.0, 3.0)).left_out_s == ((2.0, 3.0), (3.0, 4.0))
    with pytest.raises(SetupError):
        NO_EDITS.without((2.0, 1.0))


def test_a_cycle_counts_as_left_out_with_more_than_its_edge() -> None:
    left_out = ((1.0, 1.5),)
    assert is_left_out(left_out, 1.0, 1.5)
    assert is_left_out(left_out, 1.3, 1.8)
    assert not is_left_out(left_out, 1.48, 1.98)
    assert not is_left_out(left_out, 1.5, 2.0)


def test_all_of_it_stands_in_the_line_of_a_set_up() -> None:
    hand = ManualEdits(-1, (0.5, 2.5), ((1.0, 1.4),), ManualMarks((1.2345,), 3, "tdc", 360))
    assert edits_words(NO_EDITS) == []
    line = setup_words(replace(FOUR, hand=hand))
    for words in (
        "labels moved back by 1 place by hand",
        "only 0.50 to 2.50 s judged",
        "left out by hand: 1.00 to 1.40 s",
        "firing top dead centre of cylinder 3 at 1.234 s, every 360 degrees",
    ):
        assert words in line
    many = ManualEdits(left_out_s=tuple((float(i), i + 0.5) for i in range(6)))
    assert str(edits_words(many)[0]).endswith("and 2 more")
