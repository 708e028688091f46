"""A recorder's steps against the height of the humps."""

from dataclasses import replace

import numpy as np
import pytest

from tests.traces.core.synthetic import Crank
from traces.core.preparation.preparation import prepare
from traces.core.waveform.waveform import Channel


def _codes(step_a: float, noise_a: float = 0.5) -> set[tuple[str, str]]:
    """Return findings about steps where the recorder rounds to `step_a`; humps are 120 A."""
    crank = Crank(noise_a=noise_a)
    waveform = crank.waveform()
    current, *others = waveform.channels
    step_v = step_a * crank.mv_per_a / 1000
    rounded = np.round(np.asarray(current.values) / step_v) * step_v
    channel = Channel("clamp", "V", rounded.astype(np.float32))
    done = prepare(replace(waveform, channels=(channel, *others)), crank.setup())
    return {(f.code, f.severity) for f in done.findings if "steps" in f.code}


@pytest.mark.parametrize(
    ("step_a", "severity"), [(60.0, "stop"), (30.0, "warn"), (5.0, None), (0.5, None)]
)
def test_few_steps_a_hump_are_warned_of_or_refused(step_a, severity) -> None:
    assert _codes(step_a) == ({("coarse-steps", severity)} if severity else set())


def test_noise_blurs_the_steps() -> None:
    assert not _codes(30.0, noise_a=40.0)
