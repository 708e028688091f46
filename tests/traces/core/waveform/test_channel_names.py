"""Channels are called by what they carry or by their number, never by a letter of our own."""

import csv
import re
from dataclasses import replace
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
import soundfile

from tests.traces.simulated import simulated_together
from traces.core.readers import read
from traces.core.setup.analysis_setup import AnalysisSetup, SyncEvent
from traces.core.signal_kinds import Signal
from traces.core.waveform.channel_names import index_of_channel
from traces.core.waveform.waveform import Waveform
from traces.simulator.other_signals import CAPTURES
from traces.simulator.recorder import PickUp
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw

LETTER = re.compile(r"[A-Za-z]{1,2}")


def named(setup: AnalysisSetup) -> list[str]:
    sync = [setup.sync.channel] if setup.sync else []
    return [setup.current_channel, *sync, *filter(None, [setup.voltage_channel])]


def assert_named_by_what_they_carry(waveform: Waveform, setup: AnalysisSetup) -> None:
    names = [channel.name for channel in waveform.channels]
    assert len(set(names)) == len(names) >= 2
    assert not [name for name in names if LETTER.fullmatch(name)]
    assert set(named(setup)) <= set(names)


def scenario(event: SyncEvent | None) -> Scenario:
    drawn = draw(31, layout="I4", fault="none")
    sync = PickUp(event=event) if event else None
    return replace(drawn, sync=sync, rate_hz=2000.0, crank_s=1.0, record_battery=True)


EVENTS: tuple[SyncEvent | None, ...] = (*get_args(SyncEvent), None)


@pytest.fixture(scope="module")
@simulated_together
def simulated() -> dict[SyncEvent | None, Scenario]:
    return {event: scenario(event) for event in EVENTS}


@pytest.mark.parametrize("event", EVENTS)
def test_simulated_current(simulated, event: SyncEvent | None) -> None:
    made = simulated[event]
    assert_named_by_what_they_carry(made.waveform, made.scenario.setup())


@pytest.mark.parametrize("signal", CAPTURES)
def test_other_simulated_signals(simulated, signal: Signal) -> None:
    assert_named_by_what_they_carry(*CAPTURES[signal](simulated["ignition"]))


def rows_of(folder: Path) -> Path:
    path = folder / "bare.csv"
    with path.open("w", newline="") as file:
        csv.writer(file).writerows([i / 1000, i % 7, i % 5] for i in range(200))
    return path


def sound_of(folder: Path) -> Path:
    path = folder / "bare.wav"
    soundfile.write(path, np.zeros((200, 2)), 1000)
    return path


def array_of(folder: Path) -> Path:
    path = folder / "bare.npy"
    np.save(path, np.zeros((2, 200)))
    return path


def headings_left_empty(folder: Path) -> Path:
    path = folder / "empty.csv"
    lines = ["Time [s],,", *(f"{i / 1000},{i % 7},{i % 5}" for i in range(200))]
    path.write_text("\n".join(lines) + "\n")
    return path


@pytest.mark.parametrize("write", [rows_of, sound_of, array_of, headings_left_empty])
def test_channels_without_names_are_numbered(tmp_path: Path, write) -> None:
    assert [channel.name for channel in read(write(tmp_path)).channels] == ["1", "2"]


@pytest.mark.parametrize(
    ("names", "wanted", "index"),
    [
        (["A", "B"], "B", 1),
        (["A", "B"], "b ", 1),
        (["clamp", "coil"], "Coil", 1),
        (["clamp", "coil"], "2", 1),
        # a name goes before a number
        (["2", "1"], "2", 0),
        (["VBatt", "2"], "2", 1),
        # letters are numbers only where the file has no names
        (["1", "2"], "B", 1),
        (["1", "2"], "C", None),
        (["1", "2"], "AB", None),
        (["clamp", "coil"], "A", None),
        (["1", "coil"], "A", None),
        (["B", "A"], "A", 1),
        (["1", "2"], "0", None),
        (["1", "2"], "3", None),
        (["1", "2"], "", None),
        (["1", "2"], "ß", None),
        ([], "A", None),
    ],
)
def test_how_a_channel_is_found(names: list[str], wanted: str, index: int | None) -> None:
    assert index_of_channel(names, wanted) == index
