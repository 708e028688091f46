"""One bit of a channel that is a bit mask, as control units log several events in one number."""

from dataclasses import replace

import numpy as np

from shopdiag.people.core.words import gettext as _
from traces.core.setup import MOST_BITS, AnalysisSetup, SetupError
from traces.core.waveform import Channel, Waveform

_EXACT_BITS = 24
"""Whole numbers of so many bits are exact among samples of 32-bit floating point (IEEE 754)."""


def with_sync_bit(waveform: Waveform, setup: AnalysisSetup) -> Waveform:
    """Return the recording with the sync channel turned into the one bit that is meant.

    Parameters
    ----------
    waveform
        Holds the sync channel that `setup` names, if it names one.
    setup
        With `sync.bit` None the recording comes back as it is.

    Raises
    ------
    SetupError
        If the recording has no such channel, or the channel is no bit mask.
    """
    sync = setup.sync
    if sync is None or sync.bit is None:
        return waveform
    try:
        mask = waveform.channel(sync.channel)
    except KeyError as error:
        raise SetupError(str(error.args[0])) from None
    finite = np.isfinite(mask.values)
    known = mask.values[finite]
    in_range = bool(((known >= 0) & (known < 2.0**MOST_BITS)).all())
    if not in_range or not bool((known == np.rint(known)).all()):
        raise SetupError(
            _(
                "Channel “{name}” is no bit mask: it holds other than whole numbers of "
                "up to {most_bits} bits; leave the bit out."
            ).format(name=mask.name, most_bits=MOST_BITS)
        )
    if known.size and float(known.max()) >= 2.0**_EXACT_BITS:
        raise SetupError(
            _(
                "Channel “{name}” holds numbers of more than {exact_bits} bits, which "
                "are kept rounded, so that no bit of them is sure; export the sync's bit "
                "as a channel of its own."
            ).format(name=mask.name, exact_bits=_EXACT_BITS)
        )
    bits = np.zeros(mask.values.size, dtype=np.float32)
    bits[finite] = known.astype(np.int64) >> sync.bit & 1
    bits[~finite] = np.nan
    channels = tuple(
        replace(c, values=bits, summary=None) if c is mask else c for c in waveform.channels
    )
    return replace(waveform, channels=channels)


def replaced(waveform: Waveform, old: Channel, new: Channel) -> Waveform:
    """Return the recording with one channel in another's place."""
    channels = tuple(new if c is old else c for c in waveform.channels)
    return replace(waveform, channels=channels)
