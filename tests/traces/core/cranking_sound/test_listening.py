"""Cranking sounds: a measured one, the same with a compression made quiet, and simulated ones."""

import json

import numpy as np
import pytest
from django.core.management import call_command

from tests.traces.core.signals.measured import measured
from traces.core.cranking_sound import heard_words, judge_sound
from traces.core.cranking_sound.loudness import loudness_of
from traces.core.cranking_sound.rhythm import find_beat
from traces.simulator.heard_crank import RATE_HZ, heard_crank

NAME = "sound/cranking-16s.ogg"
LINE_HZ = 6.94
"""Of the measured sound's loudness, by its spectrum (the folder's description)."""


@pytest.fixture(scope="module")
def cranked(real) -> tuple[np.ndarray, float]:
    waveform = measured(real / NAME)
    return np.asarray(waveform.channels[0].values, dtype=float), waveform.rate_hz


def _quieter(sound: np.ndarray, rate_hz: float, share: float, of: int) -> np.ndarray:
    """Return the sound with one compression of so many at a share of its loudness."""
    beat = find_beat(loudness_of(sound, rate_hz), of)
    steps_s = np.linspace(beat.from_s, beat.to_s, beat.compressions.size)
    counted = np.interp(np.arange(sound.size) / rate_hz, steps_s, beat.compressions)
    away = np.abs((counted + of / 2) % of - of / 2)
    return np.asarray(sound * (1.0 - (1.0 - share) * np.clip((0.6 - away) / 0.2, 0.0, 1.0)))


def test_a_measured_crank_sounds_even(cranked):
    sound, rate_hz = cranked
    heard = judge_sound(sound, rate_hz, cylinders=4)
    assert (heard.answer, heard.reason) == ("even", "")
    assert heard.rpm == pytest.approx(30 * LINE_HZ, rel=0.03)
    assert heard.cycles >= 25


@pytest.mark.parametrize("share", [0.4, 0.0])
def test_one_quiet_compression_of_four_is_noticed(cranked, share):
    sound, rate_hz = cranked
    heard = judge_sound(_quieter(sound, rate_hz, share, 4), rate_hz, cylinders=4)
    assert heard.answer == "uneven"
    assert heard.rpm == pytest.approx(30 * LINE_HZ, rel=0.03)


def test_every_other_quiet_compression_is_not_told_from_a_slow_crank(cranked):
    sound, rate_hz = cranked
    heard = judge_sound(_quieter(sound, rate_hz, 0.1, 2), rate_hz, cylinders=4)
    assert heard.answer == "cannot-tell"


def test_the_beginning_and_what_comes_after_are_left_out(cranked):
    sound, rate_hz = cranked
    hiss = 0.005 * np.random.default_rng(1).standard_normal(int(3 * rate_hz))
    heard = judge_sound(np.concatenate([hiss, sound, hiss]), rate_hz, cylinders=4)
    assert heard.answer == "even"
    # windows of two seconds are half filled at both ends
    span_s = (3.0, 3.0 + sound.size / rate_hz)
    assert (heard.from_s, heard.to_s) == pytest.approx(span_s, abs=1.5)


def test_simulated_cranks_are_told_rightly_or_not_at_all():
    told = []
    for seed, cylinders in enumerate((3, 4, 4, 6)):
        sound = np.ones(cylinders)
        dead = np.where(np.arange(cylinders) == 1, 0.0, 1.0)
        for compressions, wrong in ((sound, "uneven"), (dead, "even")):
            rng = np.random.default_rng(seed)
            crank = heard_crank(rng, compressions, rpm=230.0, seconds=9.0, noise_db=20.0)
            heard = judge_sound(crank.samples, RATE_HZ, cylinders)
            assert heard.answer != wrong
            if heard.answer != "cannot-tell":
                told.append(heard.answer)
                assert heard.rpm == pytest.approx(crank.rpm, rel=0.04)
    assert told.count("even") >= 2
    assert told.count("uneven") >= 3


@pytest.mark.parametrize(
    ("samples", "rate_hz", "reason"),
    [
        (np.zeros(80_000), 16_000.0, "silent"),
        (np.random.default_rng(2).standard_normal(16_000), 16_000.0, "too-short"),
        (np.ones(9000), 3000.0, "low-rate"),
        (np.zeros(0), 16_000.0, "too-short"),
        (np.full(80_000, np.nan), 16_000.0, "silent"),
    ],
)
def test_what_cannot_be_told_says_why(samples, rate_hz, reason):
    heard = judge_sound(samples, rate_hz, 4)
    assert (heard.answer, heard.reason, heard.rpm) == ("cannot-tell", reason, None)
    assert all(str(words) for words in heard_words(heard))


def test_noise_and_a_voice_are_no_crank():
    rng = np.random.default_rng(4)
    times_s = np.arange(8 * RATE_HZ) / RATE_HZ
    syllables = 1.0 + 0.8 * np.sin(2 * np.pi * np.cumsum(rng.uniform(2, 6, times_s.size)) / RATE_HZ)
    for sound in (rng.standard_normal(times_s.size), syllables * np.sin(2000 * times_s)):
        assert judge_sound(sound, RATE_HZ, 4).answer == "cannot-tell"


def test_the_command_tells_it(real, capsys):
    call_command("listen", str(real / NAME), "--cylinders", "4", "--json")
    told = json.loads(capsys.readouterr().out)
    assert (told["sounds"], told["file"]) == ("even", "cranking-16s.ogg")
    assert not {"cylinders", "positions", "relative"} & set(told)


def test_the_command_refuses_what_is_no_recording(tmp_path, capsys):
    (tmp_path / "note.wav").write_text("no sound")
    for arguments in ((str(tmp_path / "note.wav"), "--cylinders", "4"), ("x", "--cylinders", "1")):
        with pytest.raises(SystemExit) as ended:
            call_command("listen", *arguments)
        assert ended.value.code == 2
        assert capsys.readouterr().err.count("\n") == 1
