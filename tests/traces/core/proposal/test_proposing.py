"""Scale, distance of the sync and its kind, by the engine entered."""

from typing import Any

import pytest

from engines.core.firing import FiringOrder
from traces.core.preparation import usual_current_a
from traces.core.proposal import ChannelRoles, ClampSeen, SyncSeen, propose, sync_every

FOUR = FiringOrder.even((1, 3, 4, 2))


def _clamp(level, inrush=None):
    return ClampSeen(0, sure=True, level=level, inrush=inrush, inverted=False, hump_hz=7.0)


def _sync(apart_s, lines=(), is_window=False):
    return SyncSeen(1, True, 8, apart_s, 0.001, is_window, lines)


def _proposed(clamp=None, sync=None, **more):
    roles = ChannelRoles(("current", "pulses"), clamp=clamp, sync=sync)
    given: dict[str, Any] = {"units": ("V", "V"), "order": FOUR, "fuel": "petrol"} | more
    return propose(roles, **given)


def test_scales_come_the_likeliest_first_and_none_is_chosen_where_two_fit():
    found = _proposed(_clamp(1.5))
    assert found.scales[0].mv_per_a == 10.0
    assert found.scales[0].is_usual
    assert found.scales[-1].is_possible is False
    assert found.mv_per_a is None


def test_the_scale_of_before_is_proposed_only_while_such_an_engine_draws_that():
    assert _proposed(_clamp(1.5), last_mv_per_a=20.0).mv_per_a == 20.0
    found = _proposed(_clamp(1.5), last_mv_per_a=1.0)
    assert found.mv_per_a is None
    assert found.scales[0].mv_per_a == 10.0


def test_the_only_possible_scale_is_proposed():
    least_a, _most_a = usual_current_a(4, "petrol")
    found = _proposed(_clamp(least_a * 0.001 / 2 * 1.05))
    assert [c.mv_per_a for c in found.scales if c.is_possible] == [1.0]
    assert found.mv_per_a == 1.0


def test_amps_need_no_scale_and_full_scale_leaves_it_open():
    assert all(c.amps is None for c in _proposed(_clamp(150.0), units=("A", "V")).scales)
    open_scale = _proposed(_clamp(0.4), units=(None, None), is_full_scale=True)
    assert all(c.amps is None for c in open_scale.scales)
    known = _proposed(_clamp(0.4), units=(None, None), is_full_scale=True, full_scale_v=5.0)
    assert {c.mv_per_a: c.amps for c in known.scales}[10.0] == pytest.approx(200.0)


@pytest.mark.parametrize(
    ("apart_s", "every"),
    [(0.2, 360), (1.2, 720)],
)
def test_speed_alone_settles_what_only_one_of_two_allows(apart_s, every):
    assert sync_every(_sync(apart_s), None) == (every, True)


@pytest.mark.parametrize(("line", "every"), [(4, 360), (8, 720)])
def test_compressions_between_pulses_settle_the_rest(line, every):
    """Four cylinders: four humps in the time of two pulses every 360 degrees, else eight."""
    lines = tuple(1.0 if n == line else 0.001 for n in range(1, 65))
    assert sync_every(_sync(0.45, lines), FOUR) == (every, True)
    assert sync_every(_sync(0.45, lines), None) == (None, False)


def test_the_event_is_a_window_an_injector_or_ignition():
    assert _proposed(sync=_sync(0.5, is_window=True)).event == "cam"
    assert _proposed(sync=_sync(0.5), fuel="diesel").event == "injector"
    assert _proposed(sync=_sync(0.5)).event == "ignition"
    assert _proposed().event is None
