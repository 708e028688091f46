"""Analysis by parts: the same whatever the parts, and little memory for a long capture."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import traces
from engines.core.firing import FiringOrder
from traces.core.readers import read
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.core.sync.pulses import find_pulses
from traces.core.waveform.conditioning import condition
from traces.core.waveform.waveform import Channel, Waveform

SETUP = AnalysisSetup(
    firing_order=FiringOrder.parse("1-3-4-2"), current_channel="clamp", mv_per_a=10.0
)
ROOT = Path(next(iter(traces.__path__))).parent


def _waveform(values, rate_hz=40_000.0) -> Waveform:
    return Waveform(0.0, rate_hz, (Channel("clamp", "V", np.asarray(values, dtype=np.float32)),))


@given(
    known=st.lists(st.booleans(), min_size=30, max_size=200).filter(lambda k: sum(k) > 2),
    part=st.sampled_from([10, 20, 50, 1000]),
)
def test_gaps_are_counted_over_the_edges_of_parts(known, part) -> None:
    values = np.where(known, np.arange(len(known)) + 1.0, np.nan)
    waveform = _waveform(values)  # ten samples are averaged to one
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("traces.core.waveform.conditioning._PART", part)
        found = condition(waveform, waveform.channels[0], SETUP)
    text = "".join("x" if k else "." for k in known).strip(".")
    assert found.missing_share == pytest.approx(text.count(".") / len(text))
    longest = max(len(hole) for hole in text.split("x"))
    assert found.longest_gap_s == pytest.approx(longest / waveform.rate_hz)
    assert np.isfinite(found.current_a).all()


@pytest.mark.parametrize("part", [10, 990, 12_345])
def test_the_current_is_the_same_whatever_the_parts(part, monkeypatch) -> None:
    rng = np.random.default_rng(3)
    values = 1.5 + 0.3 * np.sin(np.arange(60_007) / 400) + 0.01 * rng.standard_normal(60_007)
    values[20_000:20_300] = np.nan
    waveform = _waveform(values)
    whole = condition(waveform, waveform.channels[0], SETUP)
    monkeypatch.setattr("traces.core.waveform.conditioning._PART", part)
    parts = condition(waveform, waveform.channels[0], SETUP)
    assert np.array_equal(parts.current_a, whole.current_a)
    assert (parts.missing_share, parts.longest_gap_s) == (whole.missing_share, 300 / 40_000)


@pytest.mark.parametrize("part", [7, 64, 1000, 4096])
def test_pulses_are_the_same_whatever_the_parts(part, monkeypatch) -> None:
    rng = np.random.default_rng(4)
    values = 0.01 * rng.standard_normal(40_000)
    for at, height in ((3_000, 1.0), (11_000, -0.9), (19_500, 1.1), (30_000, 0.3)):
        ringing = np.exp(-np.arange(400) / 80) * np.sin(np.arange(400) / 3)
        values[at : at + 400] += height * ringing
    values[25_000:26_000] = np.nan
    waveform = _waveform(values)
    whole = find_pulses(waveform, waveform.channels[0], 0.0, 1.0)
    monkeypatch.setattr(Channel.blocks, "__defaults__", (part,))
    parts = find_pulses(waveform, waveform.channels[0], 0.0, 1.0)
    assert whole.times_s.size == 4
    assert np.array_equal(parts.times_s, whole.times_s)
    assert np.array_equal(parts.heights, whole.heights)


def test_questions_to_a_channel() -> None:
    values = np.array([np.nan, 2, 2, np.nan, 2, 3], dtype=np.float32)
    channel = Channel("clamp", None, values)
    assert channel.holds(4)
    assert not channel.holds(5)
    assert not channel.is_flat()
    assert Channel("clamp", None, values[:5].copy()).is_flat()
    long = Channel("clamp", None, np.arange(1000, dtype=np.float32))
    assert long.sampled(100, first=10, last=510).tolist() == list(range(10, 510, 5))
    assert long.sampled(2000).tolist() == list(range(1000))


CODE = """
import json, sys
from pathlib import Path
import numpy as np
from traces.core.judging import analyse
from traces.core.setup import AnalysisSetup
from traces.core.waveform import Channel, Waveform

def peak():
    line = next(x for x in Path("/proc/self/status").read_text().splitlines() if "VmHWM" in x)
    return int(line.split()[1]) * 1024

setup = AnalysisSetup.from_json(json.loads(sys.argv[2]))
def analysed(path, rate_hz):
    values = np.load(path, mmap_mode="r")
    channels = tuple(Channel(n, "V", v) for n, v in zip(("clamp", "coil"), values))
    return analyse(Waveform(0.0, rate_hz, channels), setup)

analysed(sys.argv[1] + "short.npy", 2000.0)
before = peak()
report = analysed(sys.argv[1] + "long.npy", 2000.0 * int(sys.argv[3]))
json.dump([report.verdict, report.candidates, peak() - before], sys.stdout)
"""


def test_a_long_capture_is_judged_in_little_memory(references, tmp_path) -> None:
    if not Path("/proc/self/status").exists():
        pytest.skip("this system does not tell a process' peak memory")
    reference = references["ref-01"]
    recording = read(reference.path)
    times, rest_s = 1500, 10  # 3 MHz, and rest before the crank
    values = np.stack([channel.values for channel in recording.channels])
    np.save(tmp_path / "short.npy", values)
    rest = rest_s * 2000 * times
    long = np.lib.format.open_memmap(
        tmp_path / "long.npy", "w+", np.float32, (2, rest + times * recording.samples)
    )
    for row, channel in zip(long, values, strict=True):
        row[:rest] = channel[0]
        for first in range(0, channel.size, 100):
            part = np.repeat(channel[first : first + 100], times)
            row[rest + first * times : rest + first * times + part.size] = part
    long.flush()
    assert long.nbytes > 300_000_000
    about = json.dumps(reference.setup.to_json())
    command = [sys.executable, "-c", CODE, f"{tmp_path}/", about, str(times)]
    done = subprocess.run(command, check=True, capture_output=True, text=True, cwd=ROOT)
    verdict, candidates, grown = json.loads(done.stdout)
    assert (verdict, candidates) == ("uneven", [reference.truth["low"]])
    assert grown < 150_000_000
