"""Write a waveform as a file a workshop's recorder might hand over."""

import csv
from pathlib import Path

import numpy as np
import soundfile

from traces.core.waveform import Waveform


def to_csv(
    waveform: Waveform,
    path: Path,
    *,
    delimiter: str = ",",
    decimal: str = ".",
    header: tuple[str, ...] = (),
    with_time: bool = True,
) -> None:
    """Write delimited text: a row of names with units, then one row a sample.

    Parameters
    ----------
    delimiter, decimal
        Between columns, and in numbers.
    header
        Lines to put first, written as comments with “#”.
    with_time
        Whether the first column is the time in seconds.

    Raises
    ------
    ValueError
        If delimiter and decimal mark are the same.
    """
    if delimiter == decimal:
        raise ValueError("delimiter and decimal mark must differ")
    names = [f"{c.name} [{c.unit}]" if c.unit else c.name for c in waveform.channels]
    columns = [[_number(v, 7) for v in channel.values.tolist()] for channel in waveform.channels]
    if with_time:
        names.insert(0, "Time [s]")
        time_s = waveform.t0_s + np.arange(waveform.samples) / waveform.rate_hz
        columns.insert(0, [_number(v, 10) for v in time_s.tolist()])
    with path.open("w", encoding="utf-8", newline="") as file:
        file.writelines(f"# {line}\n" for line in header)
        writer = csv.writer(file, delimiter=delimiter, lineterminator="\n")
        writer.writerow(names)
        rows = zip(*columns, strict=True)
        if decimal == ".":
            writer.writerows(rows)
        else:
            writer.writerows([cell.replace(".", decimal) for cell in row] for row in rows)


def to_wav(waveform: Waveform, path: Path, *, full_scale_v: float | None = None) -> float:
    """Write 16-bit WAV, one channel each, and return the volts that full scale stands for.

    Parameters
    ----------
    full_scale_v
        Volts at full scale; a little over the largest reading if None. Larger readings clip.

    Raises
    ------
    ValueError
        If the sample rate is not a whole number of hertz, or a channel has gaps: WAV knows
        neither.
    """
    if waveform.rate_hz != round(waveform.rate_hz):
        raise ValueError("a WAV file needs a whole number of hertz")
    table = np.stack([c.values for c in waveform.channels], axis=1).astype(np.float64)
    if not np.all(np.isfinite(table)):
        raise ValueError("a WAV file cannot hold a gap")
    if full_scale_v is None:
        full_scale_v = float(1.05 * np.max(np.abs(table))) or 1.0
    scaled = np.clip(table / full_scale_v, -1.0, 1.0)
    soundfile.write(path, scaled, int(waveform.rate_hz), subtype="PCM_16", format="WAV")
    return full_scale_v


def _number(value: float, digits: int) -> str:
    """Return a number as text; nothing where the waveform has a gap."""
    return f"{value:.{digits}g}" if value == value else ""  # noqa: PLR0124
