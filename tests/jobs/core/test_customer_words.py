"""What the customer reads of the cylinders that were signed; no database."""

from dataclasses import replace

import pytest

from jobs.core.customer_words import (
    CrankingTest,
    GaugeTold,
    compression_words,
    uneven_but_beyond,
)
from tests.wording import says, says_only


def capture_of(relative=None, sets=((3,),), *, low=(0.57,), opened=(), is_uneven=True):
    relative = relative or {}
    calls = {
        c: "open" if c in opened else "suspect" if v < 0.8 else "sound" for c, v in relative.items()
    }
    return CrankingTest(is_uneven, relative, calls, low, tuple(sets))


ONE_LOW = {1: 1.0, 2: 1.01, 3: 0.57, 4: 1.0}
EVEN = dict.fromkeys((1, 2, 3, 4), 1.0)
BUILT = "built about 57 % of the compression of the good ones in this test."


@pytest.mark.parametrize(
    ("signed", "capture", "bad", "words"),
    [
        ([3], capture_of(ONE_LOW), [], f"Cylinder 3 {BUILT}"),
        ([3], None, [], "The trouble is in cylinder 3."),
        (
            [1, 2, 3],
            capture_of({1: 0.77, 2: 0.74, 3: 0.7, 4: 1.0}, sets=[(1, 2, 3)]),
            [],
            "Cylinders 1, 2 and 3 built about 77 %, 74 % and 70 % of the compression of the good "
            "ones in this test.",
        ),
        # not settled: the gauge decides, and what it found
        ([3, 4], capture_of(sets=[(3,), (4,)]), [], f"One of cylinders 3 and 4 {BUILT}"),
        (
            [3, 4],
            capture_of(sets=[(3,), (4,)]),
            [4],
            f"Cylinder 4 {BUILT} The cranking test left open which of cylinders 3 and 4 it "
            "is; measuring them settled it.",
        ),
        # both bad is no answer
        ([3, 4], capture_of(sets=[(3,), (4,)]), [3, 4], f"One of cylinders 3 and 4 {BUILT}"),
        (
            [1, 2, 3, 4],
            capture_of(sets=[(1, 4), (2, 3)], low=(0.5, 0.6)),
            [],
            "Either cylinders 1 and 4 or cylinders 2 and 3 built about 50 % and 60 % of the "
            "compression of the good ones in this test.",
        ),
        # signed once it was measured, whatever label the capture's figures carry
        ([4], capture_of(ONE_LOW, sets=[(3,), (4,)]), [4], f"Cylinder 4 {BUILT}"),
        (
            [4],
            capture_of(ONE_LOW, sets=[(3,), (4,)]),
            [],
            f"Cylinder 4 {BUILT} The cranking test left open which it is; the diagnosis "
            "named cylinder 4.",
        ),
        (
            [1],
            capture_of(ONE_LOW, sets=[(3,), (4,)]),
            [],
            "Cylinder 1 was named by the diagnosis. The test itself pointed at cylinder 3 or "
            "cylinder 4.",
        ),
        # against the capture
        (
            [1],
            capture_of(ONE_LOW),
            [],
            "Cylinder 1 was named by the diagnosis; the test itself did not show it low. The test "
            "itself pointed at cylinder 3.",
        ),
        (
            [1, 3],
            capture_of(ONE_LOW),
            [],
            f"Cylinder 3 {BUILT} Cylinder 1 was named by the diagnosis; the test itself did not "
            "show it low.",
        ),
        (
            [3],
            capture_of(EVEN, sets=(), low=(), is_uneven=False),
            [],
            "Cylinder 3 was named by the diagnosis; in this test the cylinders compared evenly.",
        ),
        (
            [3],
            capture_of(sets=(), low=(), is_uneven=False),
            [],
            "Cylinder 3 was named by the diagnosis; in this test the cylinders compared evenly.",
        ),
        (
            [2],
            capture_of(EVEN, sets=(), low=(), opened=(2,), is_uneven=False),
            [],
            "Cylinder 2 was not tested: its plug was out.",
        ),
        # no numbers: only that it is low
        ([3], capture_of(), [], "Cylinder 3 built less compression than the others in this test."),
    ],
)
def test_what_the_test_showed(signed, capture, bad, words):
    assert compression_words(signed, capture, bad) == words


def test_nobody_reads_of_even_cylinders_where_one_bank_is_weaker():
    even = capture_of(EVEN, sets=(), low=(), is_uneven=False)
    words = compression_words([3], replace(even, beside="One bank is weaker."), [])
    assert says(words, "customer_words.test-itself-did-not")
    assert words.startswith("Cylinder 3 ")
    assert words.endswith(" One bank is weaker.")


def test_no_compression_fault_on_an_uneven_capture():
    low = "cylinder 3 or cylinder 4"
    assert says_only(
        uneven_but_beyond([(3,), (4,)]), "customer_words.cranking-test-cylinders-compared", low=low
    )
    assert says_only(
        uneven_but_beyond([]), "customer_words.cranking-test-cylinders-compared-unevenly"
    )


@pytest.mark.parametrize(
    ("signed", "capture", "gauge", "words"),
    [
        # 480 of 1200 kPa: the capture's 57 % is of the cranking current
        (
            [3],
            capture_of(ONE_LOW),
            GaugeTold(frozenset({1, 3}), {1: 1.0, 3: 0.4}, 1),
            "By the gauge, cylinder 3 reached 40 % of the compression of cylinder 1.",
        ),
        # measured alone, or as the highest: nothing to compare it with
        (
            [3],
            capture_of(ONE_LOW),
            GaugeTold(frozenset({3})),
            "In the cranking test cylinder 3 gave about 57 % of what the good ones gave.",
        ),
        (
            [3],
            capture_of(ONE_LOW),
            GaugeTold(frozenset({1, 3}), {1: 0.9, 3: 1.0}, 3),
            "In the cranking test cylinder 3 gave about 57 % of what the good ones gave.",
        ),
        ([3], capture_of(ONE_LOW), GaugeTold(frozenset({1})), f"Cylinder 3 {BUILT}"),
        (
            [3, 4],
            capture_of(sets=[(3,), (4,)]),
            GaugeTold(frozenset({1, 4}), {1: 1.0, 4: 0.4}, 1),
            "In the cranking test one of cylinders 3 and 4 gave about 57 % of what the good "
            "ones gave.",
        ),
    ],
)
def test_a_gauge_has_the_word_on_compression(signed, capture, gauge, words):
    assert compression_words(signed, capture, [], gauge) == words
