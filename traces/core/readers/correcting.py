"""A correction by hand laid over a file as it is read."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from shopdiag.people.core.words import say
from traces.core.readers.correction import ChannelCorrection, Correction, CorrectionError
from traces.core.readers.recording import NO_RATE, Recording
from traces.core.readers.stream import Block, Column, Stream

BY_HAND = say("Corrected by hand: {changes}.")


def corrected_stream(stream: Stream, correction: Correction) -> Stream:
    """Return a stream whose channels are named, scaled and timed as a person said.

    Raises
    ------
    CorrectionError
        If it does not fit the file.
    """
    if correction.text.to_json() and not is_table(stream):
        raise CorrectionError(
            say(
                "This file is {format}, no text with columns; correct rate and channels only.",
                format=stream.format,
            )
        )
    kept = _kept(stream.columns, correction.channels)
    made = replace(
        stream,
        columns=_columns(stream.columns, kept),
        full_scale=stream.full_scale and not _all_in_units(stream.columns, kept),
    )
    if correction.rate_hz is not None:
        made.rate_hz = correction.rate_hz
    # numbers of rows still tell where some are missing; times would say another rate
    timed = correction.rate_hz is None or stream.index
    made.blocks = _blocks(stream, made, kept, timed=timed)
    return made


def is_table(stream: Stream) -> bool:
    """Return whether a file was taken apart by delimiters."""
    return stream.text is not None and stream.text.delimiter is not None


def corrected_recording(recording: Recording, correction: Correction) -> Recording:
    """Return the recording with the start that a person said, and a note of what was said."""
    start_s = recording.t0_s if correction.start_s is None else correction.start_s
    notes = [note for note in recording.notes if correction.rate_hz is None or note != NO_RATE]
    notes.append(BY_HAND.filled(changes=correction.words))
    return replace(recording, t0_s=start_s, notes=tuple(notes), correction=correction)


def _kept(
    columns: Sequence[Column], channels: Sequence[ChannelCorrection]
) -> dict[int, ChannelCorrection]:
    """Return what is said about each channel that is kept, by its place in the file."""
    said = {channel.number: channel for channel in channels}
    unknown = [number for number in said if number > len(columns)]
    if unknown:
        raise CorrectionError(
            say(
                "The correction speaks of channel {number}, and the file has {count}; "
                "correct it by hand anew.",
                number=unknown[0],
                count=len(columns),
            )
        )
    numbers = range(1, len(columns) + 1)
    kept = {n - 1: said.get(n) or ChannelCorrection(n) for n in numbers}
    kept = {i: channel for i, channel in kept.items() if not channel.left_out}
    if not kept:
        raise CorrectionError(say("The correction leaves every channel out; keep at least one."))
    return kept


def _columns(columns: Sequence[Column], kept: dict[int, ChannelCorrection]) -> tuple[Column, ...]:
    made: list[Column] = []
    taken: set[str] = set()
    for i, said in kept.items():
        name = columns[i].name if said.name is None else said.name
        if name.casefold() in taken:
            raise CorrectionError(
                say(
                    "Two channels would be called “{name}”; give each a name of its own.", name=name
                )
            )
        taken.add(name.casefold())
        unit = columns[i].unit if said.unit is None else said.unit or None
        made.append(Column(name, unit))
    return tuple(made)


def _all_in_units(columns: Sequence[Column], kept: dict[int, ChannelCorrection]) -> bool:
    """Return whether a person gave every channel a unit, so that none is a share any more."""
    return all(said.unit or (said.unit is None and columns[i].unit) for i, said in kept.items())


def _blocks(
    stream: Stream, made: Stream, kept: dict[int, ChannelCorrection], *, timed: bool
) -> Iterator[Block]:
    every = len(kept) == len(stream.columns)
    factors = np.array([[said.factor] for said in kept.values()], dtype=np.float32)
    plain = bool((factors == 1.0).all())
    first = True
    for block in stream.blocks:
        values = block.values if every else block.values[list(kept)]
        if not plain:
            with np.errstate(over="ignore", invalid="ignore"):
                values = values * factors
        if not timed and first and block.times is not None:
            # rows keep their order and lose their times, but not where they start
            made.t0_s = float(block.times[0])
        first = False
        yield Block(values, block.times if timed else None)
