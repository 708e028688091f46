"""Sampled channels, their summaries, and the clamp's channel as amps."""

from traces.core.waveform.channel_names import index_of_channel
from traces.core.waveform.conditioning import (
    GRID_HZ,
    LEAST_CRANK_S,
    Conditioned,
    Floats,
    amps_per_unit,
    beside,
    condition,
    gaps_within,
    gives_amps,
    reversed_clamp,
)
from traces.core.waveform.minmax import envelope
from traces.core.waveform.rest import Rest, find_rest
from traces.core.waveform.sample_sketch import is_same_recording, sketch_of
from traces.core.waveform.stretch import stretch_figures
from traces.core.waveform.summaries import BLOCK, Summary, Summing, block_extremes, summary_of
from traces.core.waveform.waveform import Channel, Samples, Waveform, let_go

__all__ = [
    "BLOCK",
    "GRID_HZ",
    "LEAST_CRANK_S",
    "Channel",
    "Conditioned",
    "Floats",
    "Rest",
    "Samples",
    "Summary",
    "Summing",
    "Waveform",
    "amps_per_unit",
    "beside",
    "block_extremes",
    "condition",
    "envelope",
    "find_rest",
    "gaps_within",
    "gives_amps",
    "index_of_channel",
    "is_same_recording",
    "let_go",
    "reversed_clamp",
    "sketch_of",
    "stretch_figures",
    "summary_of",
]
