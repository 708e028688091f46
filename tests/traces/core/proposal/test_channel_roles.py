"""What channels show is found by samples alone: no names, any order, other channels beside."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from bench.proposals import nameless, outcomes
from tests.reference_captures import all_references, unpacked
from tests.traces.simulated import simulated_together
from traces.core.proposal import ChannelRoles, propose, roles_of
from traces.core.readers import read
from traces.core.waveform import Channel, Waveform
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import SyncKind, draw

_KINDS: tuple[tuple[str, Family, SyncKind], ...] = (
    ("I4", "a", "720"),
    ("V6", "b", "360"),
    ("D4", "c", "720"),
    ("I6", "a", "none"),
)


@simulated_together
def _cranks() -> dict[int, Scenario]:
    return {
        i: replace(
            draw(9_100_000 + i, layout=layout, family=family, sync=sync),
            rate_hz=5_000.0,
            crank_s=3.0,
        )
        for i, (layout, family, sync) in enumerate(_KINDS)
    }


@pytest.fixture(scope="module")
def recordings():
    return [nameless(simulated) for simulated in _cranks().values()]


def test_nothing_is_proposed_wrongly_of_three_families(recordings):
    counts = Counter(told for one in recordings for told in outcomes(one, roles_of(one.waveform)))
    assert not [row for row, outcome in counts if outcome == "wrong"]
    assert counts["clamp", "right"] == counts["battery", "right"] == len(_KINDS)
    assert counts["sync", "right"] >= len(_KINDS) - 1


def test_a_clamp_turned_round_is_seen_and_said(recordings):
    one = recordings[0]
    at = one.carries.index("clamp")
    turned = replace(
        one.waveform,
        channels=tuple(
            Channel(c.name, c.unit, -c.values) if i == at else c
            for i, c in enumerate(one.waveform.channels)
        ),
    )
    before, after = roles_of(one.waveform).clamp, roles_of(turned).clamp
    assert before
    assert after
    assert (after.channel, after.inverted) == (before.channel, not before.inverted)


@pytest.mark.parametrize("missing", ["sync", "battery", "clamp"])
def test_what_is_not_in_the_file_is_not_proposed(recordings, missing):
    one = recordings[0]
    kept = [i for i, what in enumerate(one.carries) if what != missing]
    fewer = replace(one.waveform, channels=tuple(one.waveform.channels[i] for i in kept))
    roles = roles_of(fewer)
    assert getattr(roles, missing) is None
    for part in {"sync", "battery", "clamp"} - {missing}:
        seen = getattr(roles, part)
        assert one.carries[kept[seen.channel]] == part


@pytest.mark.parametrize("seconds", [0.7, 0.9, 1.2])
def test_pressure_is_no_clamp_in_a_file_that_is_too_short(recordings, seconds):
    """From the middle of the crank on a few humps of one cylinder look like a current's."""
    taken = []
    for one in recordings:
        part = round(seconds * one.waveform.rate_hz)
        for kept in (one.carries, [c for c in one.carries if c not in ("clamp", "battery")]):
            channels = tuple(
                Channel(c.name, c.unit, c.values[:part])
                for c, carries in zip(one.waveform.channels, one.carries, strict=True)
                if carries in kept
            )
            left = [carries for carries in one.carries if carries in kept]
            found = roles_of(replace(one.waveform, channels=channels)).clamp
            taken += [left[found.channel]] if found else []
    assert set(taken) <= {"clamp"}


def test_noise_alone_shows_nothing():
    rng = np.random.default_rng(5)
    channels = tuple(
        Channel(str(i), "V", rng.normal(0, 1, 8000).astype(np.float32)) for i in range(3)
    )
    roles = roles_of(Waveform(0.0, 2000.0, channels))
    assert (roles.clamp, roles.battery, roles.sync, roles.teeth) == (None, None, None, None)


def test_what_was_seen_is_kept_as_json(recordings):
    roles = roles_of(recordings[0].waveform)
    assert ChannelRoles.from_json(roles.to_json()).to_json() == roles.to_json()


def test_references_are_understood_without_names_in_either_order():
    """Of `tests/references`: captures of another simulation, clamp first and sync second."""
    right: Counter[str] = Counter()
    for reference in all_references().values():
        if reference.truth["flaws"]:
            continue
        line = reference.line
        recording = read(unpacked(reference.path.stem))
        swapped = tuple(
            replace(channel, name=str(n))
            for n, channel in enumerate(reversed(recording.waveform.channels), start=1)
        )
        last = len(swapped) - 1
        roles = roles_of(replace(recording.waveform, channels=swapped))
        right["all"] += 1
        if roles.clamp and roles.clamp.channel == last:
            right["clamp"] += 1
            right["sign"] += roles.clamp.inverted == reference.truth["inverted"]
        right["wrong clamp"] += bool(roles.clamp and roles.clamp.channel != last)
        right["wrong sync"] += bool(roles.sync and (roles.sync.channel == last or not line["sync"]))
        if roles.sync and line["sync"]:
            found = propose(
                roles, units=(None,) * (last + 1), order=reference.setup.firing_order, fuel="petrol"
            )
            right["sync"] += 1
            right["every"] += found.every_deg == reference.every_deg
    assert (right["wrong clamp"], right["wrong sync"]) == (0, 0)
    assert right["clamp"] >= 0.9 * right["all"]
    assert right["sign"] == right["clamp"]
    assert right["every"] >= 0.9 * right["sync"]
