"""The compact copy of a capture: where it lies and how it is read."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from django.conf import settings
from django.utils.translation import gettext_noop

from shopdiag.people.core.words import say
from traces.core.readers import BLOCKS_SUFFIX, MEANS_SUFFIX, ReadError, summaries_at
from traces.core.setup import AnalysisSetup
from traces.core.waveform import Channel, Samples, Waveform
from traces.models import Reading

SAMPLES_GONE = gettext_noop(
    "The samples of this capture are not on this server any more; send “Correct it by hand” with "
    "nothing changed, and the file is read again."
)


@dataclass(frozen=True, slots=True, eq=False)
class StoredSamples:
    """Channels as the worker understood them, on disk and not in memory.

    Parameters
    ----------
    values
        Shape (channels, samples), float32, memory-mapped.
    blocks
        Shape (channels, 2, blocks), memory-mapped: smallest and largest by block, see
        `traces.core.waveform.summaries`.
    means
        Shape (channels, blocks), memory-mapped: mean by block; None where it was not kept.
    """

    values: Samples
    blocks: Samples
    means: Samples | None


def derived_folder(capture_id: int) -> Path:
    """Return the folder of what was made from a capture."""
    return Path(settings.MEDIA_ROOT) / "derived" / str(capture_id)


def stored_samples(reading: Reading) -> StoredSamples:
    """Open the compact copy of a capture that was read.

    Raises
    ------
    FileNotFoundError
        If the files were taken away.
    """
    path = Path(settings.MEDIA_ROOT) / reading.samples_file
    blocks = np.load(path.with_suffix(BLOCKS_SUFFIX), mmap_mode="r")
    beside = path.with_suffix(MEANS_SUFFIX)
    means = np.load(beside, mmap_mode="r") if beside.exists() else None
    return StoredSamples(values=np.load(path, mmap_mode="r"), blocks=blocks, means=means)


def rate_hz_of(reading: Reading, setup: AnalysisSetup | None = None) -> float | None:
    """Return the sample rate: the file's own wins over the set-up's."""
    own: float | None = reading.understood.get("rate_hz")
    return own or (setup.rate_hz if setup else None)


def waveform_of(reading: Reading, setup: AnalysisSetup) -> Waveform:
    """Return a capture's channels on their time base.

    Raises
    ------
    ReadError
        If neither file nor set-up says how fast it was sampled.
    """
    rate_hz = rate_hz_of(reading, setup)
    if rate_hz is None:
        raise ReadError(
            say(
                "The file does not say how fast it was sampled; set the analysis up again with "
                "the sample rate."
            )
        )
    path = Path(settings.MEDIA_ROOT) / reading.samples_file
    values = np.load(path, mmap_mode="r")
    summaries = summaries_at(path, [c["missing"] for c in reading.channels])
    return Waveform(
        t0_s=start_s_of(reading),
        rate_hz=rate_hz,
        channels=tuple(
            Channel(c["name"], c["unit"], values[i], summaries[i] if summaries else None)
            for i, c in enumerate(reading.channels)
        ),
    )


def start_s_of(reading: Reading) -> float:
    """Return the time of the first sample as the file counts it."""
    return float(reading.understood.get("start_s") or 0.0)


def recorded_s(reading: Reading) -> tuple[float, float]:
    """Return begin and end of a recording as the file counts time.

    The end is infinite where only a set-up says how fast it was sampled.
    """
    begin_s, rate_hz = start_s_of(reading), rate_hz_of(reading)
    samples = reading.understood.get("samples")
    if not rate_hz or samples is None:
        return begin_s, float("inf")
    return begin_s, begin_s + samples / rate_hz
