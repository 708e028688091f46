"""How marks are compared with the truth."""

import pytest

from traces.practice.core.levels import Sync
from traces.practice.core.marking import (
    Answer,
    Call,
    Truth,
    allowed_numbers,
    letters,
    numbers_filled,
    score,
)

# Firing order 1-3-4-2 from cylinder 3; cylinder 4, hump B, is weak.
ORDER = (3, 4, 2, 1)


def _truth(sync: Sync = Sync.KNOWN, call: Call = Call.WEAK, remedy: str = "") -> Truth:
    weak = (4,) if call is Call.WEAK else ()
    return Truth(call, ORDER, weak, (1.0, 1.0, 1.0, 0.4), sync, "one", remedy)


def test_all_right_needs_verdict_hump_and_numbers():
    found = score(_truth(), Answer(Call.WEAK, (1,), (3, None, None, None)))
    assert (found.points, found.most, found.is_right) == (3, 3, True)


@pytest.mark.parametrize(
    ("answer", "parts"),
    [
        (Answer(Call.EVEN, (), ORDER), (False, False, True)),
        (Answer(Call.WEAK, (2,), ORDER), (True, False, True)),
        (Answer(Call.WEAK, (1, 2), ORDER), (True, False, True)),
        (Answer(Call.WEAK, (1,), (4, 2, 1, 3)), (True, True, False)),
        (Answer(Call.WEAK, (1,), (3, 3, None, None)), (True, True, False)),
        (Answer(Call.WEAK, (1,), (None,) * 4), (True, True, False)),
        (Answer(Call.WEAK, (1,), ORDER, numbers_open=True), (True, True, False)),
        (Answer(Call.UNCLEAR, remedy="longer"), (False, False, False)),
    ],
)
def test_each_part_is_told_apart(answer, parts):
    assert score(_truth(), answer).parts == parts


def test_an_even_engine_asks_for_no_humps():
    found = score(_truth(call=Call.EVEN), Answer(Call.EVEN, (), ORDER))
    assert (found.humps, found.points, found.most) == (None, 2, 2)


def test_a_spoilt_recording_asks_for_its_remedy():
    truth = _truth(call=Call.UNCLEAR, remedy="longer")
    assert score(truth, Answer(Call.UNCLEAR, remedy="longer")).is_right
    assert score(truth, Answer(Call.UNCLEAR, remedy="faster")).parts == (True, False)
    assert score(truth, Answer(Call.WEAK, (1,), ORDER)).parts == (False, False)


def test_numbers_that_a_sync_leaves_open_must_be_left_open():
    pair, nothing = _truth(Sync.PAIR), _truth(Sync.UNKNOWN)
    assert allowed_numbers(_truth()) == (ORDER,)
    assert allowed_numbers(pair) == (ORDER, (2, 1, 3, 4))
    assert len(set(allowed_numbers(nothing))) == 4
    assert score(pair, Answer(Call.WEAK, (1,), ORDER)).numbers is False
    for numbers in ((None,) * 4, ORDER, (2, 1, 3, 4)):
        assert score(pair, Answer(Call.WEAK, (1,), numbers, numbers_open=True)).is_right
    # One that the sync rules out is wrong, even as a guess.
    wrong = Answer(Call.WEAK, (1,), (4, 2, 1, 3), numbers_open=True)
    assert score(pair, wrong).numbers is False
    assert score(nothing, wrong).is_right


def test_two_that_share_a_coil_are_named_by_it():
    # Cylinders 1 and 4 fire 360 degrees apart: either way round, both are weak.
    truth = Truth(Call.WEAK, ORDER, (1, 4), (0.4, 1.0, 1.0, 0.4), Sync.PAIR, "companions")
    for is_open in (True, False):
        assert score(truth, Answer(Call.WEAK, (1, 3), ORDER, numbers_open=is_open)).is_right
    assert not score(truth, Answer(Call.WEAK, (1, 3), (4, 2, 1, 3))).numbers


def test_numbers_are_filled_in_firing_order():
    assert numbers_filled((None, 2, None, None), (1, 3, 4, 2)) == (4, 2, 1, 3)
    assert numbers_filled((1, 3, 4, 2), (3, 4, 2, 1)) == (1, 3, 4, 2)
    assert numbers_filled((1, 2, None, None), (1, 3, 4, 2)) is None
    assert numbers_filled((9, None, None, None), (1, 3, 4, 2)) is None
    assert numbers_filled((None,) * 4, (1, 3, 4, 2)) == (None,) * 4


def test_truth_and_answer_come_back_from_json():
    truth = _truth(Sync.PAIR)
    answer = Answer(Call.WEAK, (1,), (3, None, None, None), numbers_open=True)
    assert Truth.from_json(truth.to_json()) == truth
    assert Answer.from_json(answer.to_json()) == answer
    assert letters(4) == ("A", "B", "C", "D")
