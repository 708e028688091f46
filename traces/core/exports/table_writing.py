"""A recording as text with columns (RFC 4180), in parts, so that no length is too long."""

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import gettext as _
from traces.core.waveform import Channel, Waveform

_ROWS = 8192
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the beginning of a formula."""


class EmptyStretchError(ValueError):
    """There is not one sample in the stretch; the text is one sentence with what to do."""


def table(
    waveform: Waveform,
    channels: Sequence[Channel],
    *,
    from_s: float | None = None,
    to_s: float | None = None,
) -> Iterator[bytes]:
    """Return a heading and a row a sample, in UTF-8 with decimal points and CRLF.

    A number has the digits that make the same 32-bit sample again, nine at most; gaps are empty.

    Parameters
    ----------
    waveform
        For the time base.
    channels
        The columns beside time, some of the recording's.
    from_s, to_s
        The stretch in the file's own time, its ends included; None means to the end.

    Raises
    ------
    EmptyStretchError
        Before anything is given, if there is nothing to give.
    """
    first, last = span(waveform, from_s, to_s)
    if first >= last:
        raise EmptyStretchError(
            _("There are no samples in this stretch; choose one inside of the recording.")
        )
    return _parts(waveform, channels, first, last)


def span(waveform: Waveform, from_s: float | None, to_s: float | None) -> tuple[int, int]:
    """Return the first sample of a stretch and the one after its last."""

    def index(time_s: float) -> float:
        at = (time_s - waveform.t0_s) * waveform.rate_hz
        return min(max(at, -1.0), waveform.samples + 1.0)

    # a thousandth of a sample is rounding, not another sample
    first = 0 if from_s is None else max(0, math.ceil(index(from_s) - 1e-3))
    last = waveform.samples if to_s is None else math.floor(index(to_s) + 1e-3) + 1
    return first, min(last, waveform.samples)


def _parts(
    waveform: Waveform, channels: Sequence[Channel], first: int, last: int
) -> Iterator[bytes]:
    names = [_cell(_("Time [s]")), *(_cell(_heading(c)) for c in channels)]
    yield (",".join(names) + "\r\n").encode()
    digits = min(12, max(6, math.ceil(math.log10(waveform.rate_hz)) + 4))
    row = f"%.{digits}f" + ",%.9g" * len(channels) + "\r\n"
    blocks = [channel.blocks(_ROWS, first=first, last=last) for channel in channels]
    for at in range(first, last, _ROWS):
        rows = min(_ROWS, last - at)
        times_s = waveform.t0_s + np.arange(at, at + rows) / waveform.rate_hz
        columns = [times_s, *(_few_digits(next(block)) for block in blocks)]
        text = row * rows % tuple(np.column_stack(columns).ravel().tolist())
        yield text.replace(",nan", ",").encode()


def _few_digits(samples: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return 0.06 for the sample nearest to it, not 0.0599999987: seven digits where they do."""
    exact = samples.astype(np.float64)
    with np.errstate(all="ignore"):
        scale = 10.0 ** (6 - np.floor(np.log10(np.abs(exact))))
        rounded = np.rint(exact * scale) / scale
        same = rounded.astype(np.float32) == samples
    return np.where(same, rounded, exact)


def _heading(channel: Channel) -> str:
    name = "".join(c if c.isprintable() else " " for c in channel.name).strip()
    return f"{name} [{channel.unit}]" if channel.unit else name


def _cell(text: str) -> str:
    """Write a name so that it stays one cell, and a name."""
    if text.startswith(_FORMULA):
        text = f"'{text}"
    if any(c in text for c in ',"\r\n;'):
        doubled = text.replace('"', '""')
        return f'"{doubled}"'
    return text
