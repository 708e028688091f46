"""Misfires rank the sets that fit a capture; an inference that never rules a set out.

The codes are those of SAE J2012: P0300 random, P0301 to P0312 by cylinder, P0313 low fuel, P0314
one cylinder that is not named, P0316 at start (from memory). That a cylinder without compression
misfires is common practice.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.candidate_ranking import CAVEAT, MARK, Misfires, ranked
from tests.wording import says, says_only

PAIR = [(1,), (4,)]


def ranking(counts=None, codes=(), candidates=PAIR):
    return ranked(candidates, Misfires(counts or {}, list(codes)))


def test_counts_and_code_point_at_one_of_the_pair():
    found = ranking({1: 3, 2: 8, 3: 7, 4: 112}, [("P0304", "stored"), ("P0300", "pending")])
    assert [one.cylinders for one in found.sets] == [(4,), (1,)]
    assert found.strength == "clear"
    clearly, counts = "candidate_ranking.job-point-clearly", "candidate_ranking.counts"
    assert says_only(found.headline, clearly, cylinders="cylinder 4", caveat=CAVEAT)
    assert says(found.headline, counts, own=112, total=130, listed="cylinder 4")
    assert "P0304" in found.headline
    assert says(found.sets[1].reason, "candidate_ranking.no-code-names", cylinders="cylinder 1")
    assert says(found.sets[1].reason, counts, own=3, total=130, listed="cylinder 1")
    assert found.order == (4, 1)


@pytest.mark.parametrize(
    ("code", "cylinder"),
    # SAE J2012: contribution codes, three codes a cylinder from P0261 (from memory)
    [("P0263", 1), ("P0272", 4)],
)
def test_a_contribution_code_ranks_like_a_misfire_code(code, cylinder):
    found = ranking(codes=[(code, "stored")])
    like = ranking(codes=[(f"P030{cylinder}", "stored")])
    assert found.order[0] == cylinder
    assert [row.weight for row in found.sets] == [row.weight for row in like.sets]


@pytest.mark.parametrize(("code", "cylinder"), [("P0201", 1), ("P0262", 1), ("P0674", 4)])
def test_a_circuit_code_leans_and_settles_nothing(code, cylinder):
    found = ranking(codes=[(code, "stored")])
    assert found.order[0] == cylinder
    assert found.strength == "open"


def test_a_misfire_code_says_more_than_a_circuit_code_of_the_same_cylinder():
    both = ranking(codes=[("P0301", "stored"), ("P0261", "stored")])
    alone = ranking(codes=[("P0301", "stored")])
    assert [row.weight for row in both.sets] == [row.weight for row in alone.sets]


@pytest.mark.parametrize("code", ["P0300", "P0313", "P0314", "P0316", "P0420", "P0351"])
def test_a_code_that_names_no_misfiring_cylinder_ranks_nothing(code):
    assert ranking(codes=[(code, "stored")]) is None


def test_nothing_to_rank():
    assert ranking() is None
    assert ranking({1: 0, 4: 0}) is None
    assert ranking({1: 3, 4: 90}, candidates=[(4,)]) is None
    assert ranking({1: 3, 4: 90}, candidates=[()]) is None


def test_a_few_counts_tell_little():
    assert ranking({1: 1, 2: 0, 3: 0, 4: 2}).strength == "open"


def test_counts_on_both_lean_at_most():
    found = ranking({1: 40, 2: 0, 3: 0, 4: 60})
    assert found.strength == "leaning"
    assert found.sets[0].cylinders == (4,)


def test_a_pending_code_weighs_less_than_a_stored_one():
    stored, pending, unknown = (
        ranking(codes=[("P0304", status)]).sets[0].weight for status in ("stored", "pending", "")
    )
    assert stored > pending > 0.5
    assert unknown == stored


def test_counting_more_of_the_same_is_no_more_evidence():
    few = ranking({1: 10, 2: 10, 3: 10, 4: 100}).sets[0].weight
    many = ranking({1: 1000, 2: 1000, 3: 1000, 4: 10000}).sets[0].weight
    assert few == pytest.approx(many, abs=1e-4)


def test_equal_sets_stay_open():
    found = ranking({1: 50, 2: 0, 3: 0, 4: 50})
    assert found.strength == "open"
    assert found.sets[0].weight == found.sets[1].weight == 0.5
    assert says(found.headline, "candidate_ranking.job-do-not-tell")


def test_misfires_elsewhere_are_said():
    found = ranking({1: 2, 2: 200, 3: 1, 4: 2}, [("P0302", "stored")])
    assert found.strength == "open"
    assert says(found.elsewhere, "candidate_ranking.misfires-also-name-none", outside="cylinder 2")
    assert ranking({1: 2, 2: 3, 3: 1, 4: 200}).elsewhere == ""


def test_sets_of_several_cylinders():
    found = ranking({1: 2, 2: 2, 3: 80, 4: 90}, [("P0303", "stored")], [(1, 2), (3, 4)])
    assert found.sets[0].cylinders == (3, 4)
    assert says(
        found.sets[0].reason,
        "candidate_ranking.counts",
        own=170,
        total=174,
        listed="cylinders 3 and 4",
    )


def test_a_cylinder_that_was_not_counted_is_told():
    found = ranking({1: 40, 2: 1, 3: 2})
    assert found.sets[0].cylinders == (1,)
    assert says(found.sets[1].reason, "candidate_ranking.nothing-counted", cylinders="cylinder 4")


def test_a_code_twice_counts_once():
    once = ranking(codes=[("P0304", "stored")])
    twice = ranking(codes=[("P0304", "pending"), ("P0304", "stored")])
    assert twice.sets[0].weight == once.sets[0].weight
    assert twice.sets[0].reason == "P0304 stored"


def test_what_would_settle_it():
    found = ranking({1: 3, 4: 90})
    assert len(found.settle) == 3
    assert says(found.settle[1], "candidate_ranking.opening-one-easy-cylinder")
    assert says_only(
        found.settle[2], "candidate_ranking.compression-test", everything="cylinders 1 and 4"
    )


@given(
    st.lists(st.frozensets(st.integers(1, 12), max_size=3), max_size=12),
    st.dictionaries(st.integers(1, 12), st.integers(0, 10_000_000)),
    st.lists(
        st.tuples(
            st.sampled_from([f"P03{n:02d}" for n in range(18)]),
            st.sampled_from(["stored", "pending", "permanent", ""]),
        )
    ),
)
def test_shares_add_up_and_no_set_is_ruled_out(candidates, counts, codes):
    found = ranking(counts, codes, candidates)
    if found is None:
        return
    assert sum(one.weight for one in found.sets) == pytest.approx(1.0, abs=1e-3)
    assert all(one.weight > 0 for one in found.sets)
    assert found.headline.startswith(MARK)
    weights = [one.weight for one in found.sets]
    assert weights == sorted(weights, reverse=True)


def test_whether_there_are_misfires_at_all():
    assert Misfires({}, [("P0300", "pending")]).any
    assert Misfires({1: 1}, []).any
    assert not Misfires({1: 0}, [("P0420", "stored")]).any
    assert Misfires({}, [("P0316", "stored")]).any


V6_BANKS = {1: 1, 3: 1, 5: 1, 2: 2, 4: 2, 6: 2}


def banked(*codes, candidates=((1,), (4,)), banks=V6_BANKS, counts=None):
    return ranked(candidates, Misfires(counts or {}, [(code, "stored") for code in codes], banks))


@pytest.mark.parametrize("code", ["P0174", "P0175", "P0430", "P0022", "P0009", "P0018-76"])
def test_a_code_of_a_bank_leans_towards_its_cylinders(code):
    # common practice: a cylinder without compression makes its own bank lean and its catalyst bad
    found = banked(code)
    assert found.order[0] == 4
    assert found.strength == "leaning"
    assert f"{code} names bank 2" in found.sets[0].reason


def test_codes_of_one_bank_have_one_cause_and_count_once():
    once, twice = banked("P0174"), banked("P0174", "P0430")
    assert [row.weight for row in once.sets] == [row.weight for row in twice.sets]


def test_codes_of_both_banks_tell_nothing_apart():
    assert banked("P0171", "P0174").strength == "open"
    assert banked("P0174", candidates=((2,), (4,))).strength == "open"


def test_a_misfire_code_outweighs_a_bank():
    assert banked("P0174", "P0301").order[0] == 1


@pytest.mark.parametrize("code", ["P0021", "P0020", "P0345", "P0174"])
def test_a_bank_that_says_nothing_ranks_nothing(code):
    # an advanced cam raises compression; circuits are wiring; one row is all bank 1
    assert banked(code, banks={} if code == "P0174" else V6_BANKS) is None


def test_a_bank_without_a_cylinder_of_the_sets_is_said():
    found = banked("P0174", "P0301", candidates=((1,), (5,)))
    assert says(found.elsewhere, "candidate_ranking.names-bank-holds-no", code="P0174", bank=2)
