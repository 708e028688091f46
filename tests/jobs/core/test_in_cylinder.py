"""What several cylinders' pressures amount to."""

from jobs.core.balances import Balance
from jobs.core.in_cylinder import (
    CylinderMeasured,
    InTurn,
    InTurnLine,
    in_turn_lines,
    leak_order,
)
from traces.core.report import Call, Estimate, Interval


def one(cylinder: int, share: float, loss: float, **given) -> CylinderMeasured:
    call: Call = "suspect" if share < 0.8 else "watch" if share < 0.88 else "sound"
    return CylinderMeasured(
        cylinder,
        1200.0 * share,
        given.pop("rpm", 220.0),
        loss_per_s=Interval(loss, loss - 0.4, loss + 0.4),
        share=Estimate(cylinder, cylinder, share, share - 0.03, share + 0.03, call),
        **given,
    )


def kinds(lines: tuple[InTurnLine, ...]) -> list[tuple[InTurn, tuple[int, ...]]]:
    return [(line.kind, line.cylinders) for line in lines]


def test_the_order_of_loss_is_sure_where_intervals_do_not_touch() -> None:
    measured = [one(1, 1.0, 3.0), one(2, 0.9, 5.0), one(3, 0.7, 8.0), one(4, 1.0, 3.3)]
    assert leak_order(measured) == ((3, True), (2, True), (4, False), (1, True))


def test_a_low_cylinder_that_surely_loses_most_leaks() -> None:
    sound = [one(1, 1.0, 3.0), one(2, 1.0, 3.2)]
    assert kinds(in_turn_lines([*sound, one(3, 0.6, 8.0)], 4, None)) == [(InTurn.LEAK, (3,))]
    assert kinds(in_turn_lines([*sound, one(3, 0.6, 3.1)], 4, None)) == [(InTurn.LOW, (3,))]
    assert kinds(in_turn_lines([*sound, one(3, 0.85, 3.1)], 4, None)) == [(InTurn.WATCH, (3,))]


def test_what_the_whole_engine_has_is_said_once() -> None:
    late = Interval(12.0, 9.0, 15.0)
    back = Interval(45.0, 42.0, 48.0)
    measured = [one(c, 1.0, 3.0, intake_cam_deg=late, back_kpa=back) for c in (1, 2)]
    assert kinds(in_turn_lines(measured, 4, None)) == [
        (InTurn.EXHAUST, (1, 2)),
        (InTurn.CAM, (1,)),
    ]


def test_other_speeds_are_said() -> None:
    lines = in_turn_lines([one(1, 1.0, 3.0), one(2, 1.0, 3.0, rpm=180.0)], 2, None)
    assert InTurn.CONDITIONS in dict(kinds(lines))


def test_a_crank_that_names_others_is_a_contradiction() -> None:
    measured = [one(1, 1.0, 3.0), one(2, 0.6, 8.0)]
    agreeing = Balance(is_judged=True, weak=frozenset({2}))
    assert InTurn.CONTRADICTION not in dict(kinds(in_turn_lines(measured, 4, agreeing)))
    other = Balance(is_judged=True, weak=frozenset({1}))
    found = [line for line in in_turn_lines(measured, 4, other) if line.is_doubtful]
    assert [line.cylinders for line in found] == [(1,), (2,)]
    # which cylinders they are has to be settled for that
    open_still = Balance(is_judged=True, weak=frozenset({1}), is_settled=False)
    assert InTurn.CONTRADICTION not in dict(kinds(in_turn_lines(measured, 4, open_still)))


def test_what_is_gone_after_the_repair_is_told_with_both_figures() -> None:
    before = [one(2, 0.6, 8.0), one(1, 1.0, 3.0)]
    lines = in_turn_lines([one(1, 1.0, 3.0), one(2, 0.98, 3.1)], 4, None, before)
    assert kinds(lines) == [(InTurn.CLEARED, (2,))]
    assert "720" in lines[0].words
    assert "1176" in lines[0].words
    # one that still is low is told as such
    assert kinds(in_turn_lines([one(2, 0.6, 8.0), one(1, 1.0, 3.0)], 4, None, before)) == [
        (InTurn.LEAK, (2,))
    ]
