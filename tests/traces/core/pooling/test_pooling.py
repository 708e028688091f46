"""Several captures of one engine: pooled, repeatable, or named as different."""

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from tests.wording import says, says_only
from traces.core.findings.findings import Finding
from traces.core.humps.reference import Limits
from traces.core.pooling.pooling import PoolInput, pool, take_of
from traces.core.pooling.pooling_words import SHRINKS_LITTLE, CaptureConditions, ordinal, said
from traces.core.report.parts import JudgedLayout, ReportParts
from traces.core.report.results import Estimate, Report
from traces.core.setup.analysis_setup import AnalysisSetup, SyncSetup

LIMITS = Limits(0.80, 0.88)
FOUR = FiringOrder.parse("1-3-4-2")
SIX = FiringOrder.parse("1-5-3-6-2-4")
ODD = FiringOrder.parse("1-6-5-4-3-2", "0,150,240,390,480,630")


def take(key, by_cylinder, order=FOUR, *, firsts=(0,), sampling=0.01, method=0.02):
    """A capture with these figures by cylinder number; `firsts` says where the first may be."""
    figures = np.array([by_cylinder[c] for c in order.sequence], dtype=np.float64)
    n = figures.size
    half = 1.96 * np.hypot(sampling, method)
    return PoolInput(
        key=key,
        order=order,
        firsts=firsts,
        relative=figures,
        sampling=np.full(n, sampling),
        method=np.full(n, method),
        half=np.full(n, half),
        cycles=9,
    )


def low_three(figure=0.6, **others):
    return {1: 1.0, 2: 1.0, 3: figure, 4: 1.0, **others}


def pooled(takes):
    found = pool(takes, LIMITS)
    assert found is not None
    return found


def test_captures_that_agree_are_pooled():
    found = pooled([take(1, low_three(0.60)), take(2, low_three(0.62)), take(3, low_three(0.61))])
    three = found.by_cylinder[3]
    assert three.relative == pytest.approx(0.61, abs=1e-6)
    assert three.figures == (0.60, 0.62, 0.61)
    assert three.repeat_sd == pytest.approx(0.01)
    assert three.intervals[0] == pytest.approx((0.60 - 0.0438, 0.60 + 0.0438), abs=1e-4)
    assert found.agrees
    assert found.cylinders_known
    assert found.candidates == ((3,),)
    assert found.cycles == 27
    # ISO 5725-2: the variance pooled over the four cylinders, three of which repeat exactly
    assert found.repeat_sd == pytest.approx(0.01 / 2)


def test_what_the_method_gets_wrong_does_not_shrink():
    takes = [take(k, low_three(), sampling=0.02, method=0.03) for k in range(8)]
    found = pooled(takes).by_cylinder[3]
    half = (found.high - found.low) / 2
    assert 1.96 * 0.03 < half < 1.96 * 0.036
    one = np.hypot(0.02, 0.03) * 1.96
    assert half < one


def test_a_cylinder_that_differs_is_named_and_kept_out_of_the_sets():
    found = pooled([take(1, low_three(0.62)), take(2, low_three(0.91))])
    three = found.by_cylinder[3]
    assert three.differs
    assert not found.agrees
    assert [p.cylinder for p in found.differing] == [3]
    assert found.candidates == ((),)
    # two values on one degree of freedom: t = 12.7, the figure is worth nothing and says so
    assert three.high - three.low > 1.0
    # the others keep an interval of their own
    assert found.by_cylinder[1].high - found.by_cylinder[1].low < 0.2


@pytest.mark.parametrize(
    ("one", "other", "differs"),
    [
        (0.84, 0.91, False),  # usual scatter
        (0.60, 0.72, False),  # low in both, not far apart
        (0.40, 0.75, True),  # low in both, and far apart
        (0.74, 0.90, True),
    ],
)
def test_what_counts_as_different(one, other, differs):
    found = pooled([take(1, low_three(one)), take(2, low_three(other))])
    assert found.by_cylinder[3].differs is differs


def test_unsure_figures_do_not_differ():
    takes = [take(1, low_three(0.70), sampling=0.08), take(2, low_three(0.90), sampling=0.08)]
    assert pooled(takes).agrees


def test_another_reference_is_no_disagreement():
    # the second capture counts better cylinders as sound: all its figures stand a tenth lower
    figures = {1: 1.0, 2: 1.02, 3: 0.55, 4: 0.98}
    lower = {c: 0.88 * v for c, v in figures.items()}
    found = pooled([take(1, figures), take(2, figures), take(3, lower)])
    assert found.agrees
    assert found.by_cylinder[3].relative == pytest.approx(0.55, abs=1e-3)
    assert found.by_cylinder[1].figures[2] == pytest.approx(0.88)


def test_a_capture_without_sync_lies_over_the_others_in_one_way():
    # its first hump is cylinder 4: places 4, 2, 1, 3
    open_one = take(2, {1: 1.0, 3: 1.0, 4: 1.0, 2: 0.61}, firsts=(0, 1, 2, 3))
    assert list(open_one.relative) == [1.0, 1.0, 1.0, 0.61]
    found = pooled([take(1, low_three(0.60)), open_one])
    assert [a.role for a in found.aligned] == ["pooled", "turned"]
    assert found.by_cylinder[3].figures == (0.60, 0.61)


def test_an_even_engine_without_sync_is_in_keeping_in_every_way():
    even = dict.fromkeys(range(1, 5), 1.0)
    found = pooled([take(1, even), take(2, even, firsts=(0, 1, 2, 3)), take(3, even)])
    assert [a.role for a in found.aligned] == ["pooled", "fits", "pooled"]
    assert found.keys == (1, 3)
    assert found.agrees


def test_one_settled_and_one_open_that_only_fits():
    even = dict.fromkeys(range(1, 5), 1.0)
    found = pooled([take(1, even), take(2, even, firsts=(0, 1, 2, 3))])
    assert found.keys == (1,)
    assert found.agrees


def test_a_capture_that_fits_under_no_labelling_contradicts():
    two_low = {1: 0.5, 2: 1.0, 3: 0.5, 4: 1.0}
    found = pooled([take(1, low_three()), take(2, two_low, firsts=(0, 2))])
    assert [a.role for a in found.aligned] == ["pooled", "contradicts"]
    assert not found.agrees


def test_every_360_twice_stays_open_between_companions():
    # both on cylinder 1 or its companion 4: place 2 is 3 or 2
    found = pooled(
        [take(1, low_three(0.6), firsts=(0, 2)), take(2, low_three(0.62), firsts=(0, 2))]
    )
    assert not found.cylinders_known
    assert found.candidates == ((3,), (2,))
    assert found.places[1].figures == (0.6, 0.62)
    assert found.places[1].cylinder is None


def test_without_any_sync_the_figures_are_laid_over_each_other():
    turned = take(2, {1: 0.62, 3: 1.0, 4: 1.0, 2: 1.0}, firsts=(0, 1, 2, 3))
    found = pooled([take(1, low_three(0.6), firsts=(0, 1, 2, 3)), turned])
    assert found.places[1].figures == (0.6, 0.62)
    assert len(found.candidates) == 4


def test_sync_on_two_different_cylinders_is_found_out():
    # the same engine, the second capture's lead sat one firing further on: 3 looks like 4
    shifted = {3: 1.0, 4: 0.6, 2: 1.0, 1: 1.0}
    found = pooled([take(1, low_three(0.6)), take(2, shifted)])
    assert found.turned_by == ((1, 2, 1),)
    assert not found.agrees


def test_too_little_to_pool():
    assert pool([], LIMITS) is None
    assert pool([take(1, low_three())], LIMITS) is None


def report(figures, known=True, codes=(), firsts=None, cycles=()):
    estimates = tuple(
        Estimate(i + 1, c if known else None, v, v - 0.04, v + 0.04, "sound", tuple(cycles))
        for i, (c, v) in enumerate(figures.items())
    )
    findings = tuple(Finding(code, "warn") for code in codes)
    return Report(
        "even",
        estimates,
        cylinders_known=known,
        cycles=9,
        findings=findings,
        parts=ReportParts(layout=JudgedLayout(first_cylinders=firsts)),
    )


def setup(order=FOUR, sync=None):
    return AnalysisSetup(firing_order=order, current_channel="clamp", mv_per_a=10.0, sync=sync)


def test_an_interval_is_split_into_its_two_parts():
    cycles = (0.9, 1.0, 1.1)
    figures = dict.fromkeys(FOUR.sequence, 1.0)
    flat = take_of(1, report(figures), setup())
    assert flat.sampling == pytest.approx(0.0)
    assert flat.method == pytest.approx(0.04 / 1.96)
    # all cylinders rise and fall together: more torque in a cycle, not unevenness
    alike = take_of(1, report(figures, cycles=cycles), setup())
    assert alike.sampling == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("given", "order", "sync", "firsts"),
    [
        ({"known": True}, FOUR, SyncSetup("coil", 4), (2,)),
        ({"known": False}, FOUR, None, (0, 1, 2, 3)),
        ({"known": False}, FOUR, SyncSetup("coil", 3, every_deg=360), (1, 3)),
        ({"known": False, "codes": ["sync-missing"]}, FOUR, SyncSetup("coil", 3), (0, 1, 2, 3)),
        ({"known": False}, ODD, None, ()),
        ({"known": False, "firsts": ((4, 2),)}, FOUR, None, (2, 3)),
        ({"known": False, "firsts": ((4,), (2,))}, FOUR, None, ()),
    ],
)
def test_where_the_first_figure_may_stand(given, order, sync, firsts):
    starting = order.starting_at(4) if given["known"] else order
    found = take_of(1, report(dict.fromkeys(starting.sequence, 1.0), **given), setup(order, sync))
    assert found.firsts == firsts


def test_a_settled_capture_is_turned_to_the_order_as_set_up():
    from_four = report({4: 1.0, 2: 1.0, 1: 1.0, 3: 0.6})
    found = pooled([take_of(1, from_four, setup()), take(2, low_three(0.6))])
    assert found.by_cylinder[3].figures == (0.6, 0.6)


def test_a_refused_report_has_nothing_to_pool():
    with pytest.raises(ValueError, match="not judged"):
        take_of(1, Report("not judged"), setup())


COLD, WARM, UNKNOWN = (
    CaptureConditions("Cold", "closed"),
    CaptureConditions("Warm", "closed"),
    CaptureConditions(),
)


def words(takes, conditions):
    found = pooled(takes)
    return said(
        found, [t.key for t in takes], {t.key: c for t, c in zip(takes, conditions, strict=True)}
    )


def test_the_words_of_agreement():
    told = words([take(7, low_three(0.60)), take(9, low_three(0.62))], [COLD, COLD])
    assert says_only(told.headline, "pooling_words.captures-agree-figures-repeat", count=2, sd=0.7)
    assert says_only(told.verdict, "pooling_words.together-low", cylinders="cylinder 3")
    assert told.disagreements == ()


def test_the_words_of_disagreement():
    told = words([take(7, low_three(0.62)), take(9, low_three(0.91))], [COLD, WARM])
    assert says_only(told.headline, "pooling_words.captures-they-do-not", count=2)
    (goes,) = told.disagreements
    differences = "temperature cold and warm"
    assert says_only(
        goes,
        "pooling_words.comes-goes-conditions-differ",
        cylinder="Cylinder 3",
        differences=differences,
    )
    assert says(goes, "pooling_words.in-the", share=62, nth="first (cold, throttle closed)")
    assert says(goes, "pooling_words.in-the", share=91, nth="second (warm, throttle closed)")
    assert says(told.verdict, "pooling_words.no-weak-besides-what-goes")
    unknown = words([take(7, low_three(0.62)), take(9, low_three(0.91))], [UNKNOWN, UNKNOWN])
    assert says(unknown.disagreements[0], "pooling_words.temperature-not-noted-all")
    same = words([take(7, low_three(0.62)), take(9, low_three(0.91))], [COLD, COLD])
    assert says(same.disagreements[0], "pooling_words.nothing-noted-does")


def test_agreement_under_different_conditions_is_worth_saying():
    told = words([take(7, low_three(0.60)), take(9, low_three(0.62))], [COLD, WARM])
    assert any(
        says(
            a, "pooling_words.they-agree-although-conditions", differing="temperature cold and warm"
        )
        for a in told.asides
    )


def test_the_words_of_open_numbers():
    pair = [take(1, low_three(0.6), firsts=(0, 2)), take(2, low_three(0.62), firsts=(0, 2))]
    assert says(
        words(pair, [COLD, COLD]).verdict,
        "pooling_words.together-low-no-capture",
        either="cylinder 3 or cylinder 2",
    )
    shifted = {3: 1.0, 4: 0.6, 2: 1.0, 1: 1.0}
    turned = words([take(1, low_three(0.6)), take(2, shifted)], [COLD, COLD])
    assert says_only(
        turned.disagreements[0],
        "pooling_words.capture-figures-but-firing",
        other="second",
        one="first",
        by="one firing later",
    )
    back = words([take(1, shifted), take(2, low_three(0.6))], [COLD, COLD])
    assert "one firing earlier" in back.disagreements[0]
    two_low = {1: 0.5, 2: 1.0, 3: 0.5, 4: 1.0}
    against = words([take(1, low_three()), take(2, two_low, firsts=(0, 2))], [COLD, COLD])
    assert says(against.disagreements[0], "pooling_words.does-not-settle-numbers")


def test_a_contradiction_is_the_verdict_and_names_the_capture():
    """An even capture that names its cylinders beside one with a low cylinder that does not."""
    even = dict.fromkeys(SIX.sequence, 1.0)
    takes = [take(15, even, SIX), take(24, even | {4: 0.39}, SIX, firsts=(2, 5))]
    found = pooled(takes)
    assert [a.role for a in found.aligned] == ["pooled", "contradicts"]
    told = said(found, [15, 24], {15: COLD, 24: COLD}, {15: "one.csv", 24: "other.csv"})
    assert "no weak cylinder" not in told.verdict
    assert "contradict" in told.verdict
    assert "second capture (other.csv)" in told.verdict
    assert "second capture (other.csv)" in told.disagreements[0]
    assert "one.csv" not in told.verdict
    # one capture by itself has nothing that repeats
    assert str(SHRINKS_LITTLE) not in told.asides
    assert (
        str(SHRINKS_LITTLE) in words([take(1, even, SIX), take(2, even, SIX)], [COLD, COLD]).asides
    )


def test_a_sync_on_two_cylinders_is_no_engine_without_weak_ones():
    shifted = {3: 1.0, 4: 0.6, 2: 1.0, 1: 1.0}
    told = words([take(1, low_three(0.6)), take(2, shifted)], [COLD, COLD])
    assert "no weak cylinder" not in told.verdict
    assert "first or the second" in told.verdict


def test_six_cylinders_alike():
    figures = {1: 1.0, 2: 0.98, 3: 0.6, 4: 1.02, 5: 0.7, 6: 1.0}
    found = pooled([take(1, figures, SIX), take(2, figures, SIX)])
    assert found.candidates == ((3, 5),)


FIVE = FiringOrder.parse("1-2-4-5-3")


@pytest.mark.parametrize("low", [0.0, 0.1, 0.6])
def test_three_of_five_that_change_are_not_taken_for_another_reference(low):
    well = dict.fromkeys(range(1, 6), 1.0)
    found = pooled([take(1, well, FIVE), take(2, well | dict.fromkeys((1, 2, 4), low), FIVE)])
    assert sorted(p.cylinder for p in found.differing) == [1, 2, 4]
    assert found.by_cylinder[5].relative == pytest.approx(1.0)
    assert found.by_cylinder[1].relative == pytest.approx((1.0 + low) / 2)


def test_headlines_count_what_they_speak_of():
    even = dict.fromkeys(range(1, 5), 1.0)
    open_ones = [take(key, even, firsts=(0, 1, 2, 3)) for key in (2, 3)]
    assert says_only(
        words([take(1, even), open_ones[0]], [COLD] * 2).headline,
        "pooling_words.one-capture-names-cylinders",
    )
    assert says_only(
        words([take(1, even), *open_ones], [COLD] * 3).headline,
        "pooling_words.one-capture-names-cylinders",
        count=2,
    )
    assert says_only(
        words(open_ones, [COLD] * 2).headline, "pooling_words.no-capture-names-cylinders"
    )
    two_low = {1: 0.5, 2: 1.0, 3: 0.5, 4: 1.0}
    against = words([take(1, low_three()), take(2, two_low, firsts=(0, 2))], [COLD, COLD])
    assert says_only(against.headline, "pooling_words.captures-they-do-not", count=2)


def test_captures_are_counted_in_words_as_far_as_it_goes():
    at = {0: "first", 9: "tenth", 10: "11th", 12: "13th", 20: "21st", 21: "22nd", 110: "111th"}
    assert [ordinal(i) for i in at] == list(at.values())


def test_a_cylinder_that_is_high_in_all_is_told_beside_the_verdict():
    high = {1: 1.0, 2: 1.0, 3: 1.27, 4: 1.0}
    pair = [take(1, high), take(2, high | {3: 1.3})]
    assert [p.cylinder for p in pooled(pair).high] == [3]
    told = words(pair, [COLD, COLD])
    assert says(told.verdict, "pooling_words.no-weak-cylinder-together")
    assert says(told.verdict, "pooling_words.but-high", high="cylinder 3")
    beside_low = words([take(1, high | {2: 0.5}), take(2, high | {2: 0.5})], [COLD, COLD])
    assert says(beside_low.verdict, "pooling_words.together-low", cylinders="cylinder 2")
    assert says(beside_low.verdict, "pooling_words.but-high", high="cylinder 3")


def test_one_that_is_high_in_some_captures_only_comes_and_goes():
    high = {1: 1.0, 2: 1.0, 3: 1.4, 4: 1.0}
    pair = [take(1, high), take(2, high | {3: 1.0})]
    assert pooled(pair).high == ()
    assert words(pair, [COLD, COLD]).disagreements
