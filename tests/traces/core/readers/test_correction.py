"""What a person may say about a file: plain values there and back, contradictions in a sentence."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.wording import says_only
from traces.core.readers.correction import (
    DECIMALS,
    DELIMITERS,
    TIME_UNITS,
    ChannelCorrection,
    Correction,
    CorrectionError,
    TextCorrection,
)

_WORDS = st.text(st.characters(categories=["L", "N", "P"]), min_size=1, max_size=20)
CHANNELS = st.builds(
    ChannelCorrection,
    number=st.integers(1, 4),
    name=st.none() | _WORDS,
    unit=st.none() | st.just("") | st.sampled_from(["V", "mV", "clamp"]),
    factor=st.sampled_from([1.0, 0.001, -2.0, 1e6]),
    left_out=st.booleans(),
)


@st.composite
def texts(draw: st.DrawFn) -> TextCorrection:
    heading = draw(st.none() | st.integers(0, 6))
    column = draw(st.none() | st.integers(0, 4))
    return TextCorrection(
        delimiter=draw(st.none() | st.sampled_from(sorted(DELIMITERS))),
        decimal=draw(st.none() | st.sampled_from(sorted(DECIMALS))),
        heading_line=heading,
        first_row_line=draw(st.none() | st.integers((heading or 0) + 1, 12)),
        time_column=column,
        time_unit=None if column == 0 else draw(st.none() | st.sampled_from(sorted(TIME_UNITS))),
    )


CORRECTIONS = st.builds(
    Correction,
    rate_hz=st.none() | st.floats(1e-3, 1e9),
    start_s=st.none() | st.floats(-1e4, 1e4),
    channels=st.lists(CHANNELS, max_size=4, unique_by=lambda one: one.number).map(tuple),
    text=texts(),
)


@given(CORRECTIONS)
def test_there_and_back_through_json(correction: Correction) -> None:
    stored = json.loads(json.dumps(correction.to_json(), allow_nan=False))
    assert Correction.from_json(stored) == correction
    assert bool(stored) == bool(correction) == bool(correction.words)


def test_nothing_said_is_nothing_stored() -> None:
    assert Correction.from_json({}) == Correction(channels=(ChannelCorrection(2),))
    assert not Correction(channels=(ChannelCorrection(2),))
    assert Correction().to_json() == {}


def test_in_words() -> None:
    said = Correction(
        rate_hz=2000,
        start_s=-0.5,
        channels=(
            ChannelCorrection(1, "clamp", "V", 0.001),
            ChannelCorrection(2, unit=""),
            ChannelCorrection(3, left_out=True),
        ),
        text=TextCorrection(";", ",", 3, 5, 1, "ms"),
    )
    told = str(said.words).split("; ")
    assert says_only(told[0], "correction.columns-parted", sign="semicolon")
    assert says_only(told[1], "correction.decimal", sign="comma")
    assert says_only(told[2], "correction.headings-line", line=3)
    assert says_only(told[3], "correction.numbers-from-line", line=5)
    assert says_only(told[4], "correction.times-column", column=1)
    assert says_only(told[5], "correction.times", unit="milliseconds")
    assert told[6] == "2000 Hz"
    assert says_only(told[7], "correction.starting-s", start="\N{MINUS SIGN}0.5")
    one = "correction.channel"
    assert says_only(told[8], one, number=1, changes="called “clamp”, in V, times 0.001")
    assert says_only(told[9], one, number=2, changes="without unit")
    assert says_only(told[10], "correction.channel-left-out", number=3)
    assert len(told) == 11


@pytest.mark.parametrize(
    "data",
    [
        [],
        "ms",
        {"rate": 1},
        {"rate_hz": 0},
        {"rate_hz": "2000"},
        {"rate_hz": True},
        {"rate_hz": float("nan")},
        {"start_s": float("inf")},
        {"start_s": 1e12},
        {"start_s": 10**400},
        {"rate_hz": 10**400},
        {"channels": {}},
        {"channels": [3]},
        {"channels": [{}]},
        {"channels": [{"number": 0}]},
        {"channels": [{"number": 1.5}]},
        {"channels": [{"number": 1, "factor": 0}]},
        {"channels": [{"number": 1, "factor": None}]},
        {"channels": [{"number": 1, "factor": -(10**400)}]},
        {"channels": [{"number": 1, "name": ""}]},
        {"channels": [{"number": 1, "name": "a\u202eb"}]},
        {"channels": [{"number": 1, "name": "a" * 81}]},
        {"channels": [{"number": 1, "unit": " V"}]},
        {"channels": [{"number": 1, "left_out": 1}]},
        {"channels": [{"number": 1, "left_out": True}, {"number": 1, "name": "clamp"}]},
        {"channels": [{"number": n + 1, "name": "clamp"} for n in range(64)] + [{"number": 65}]},
        {"text": {"delimiter": "x"}},
        {"text": {"delimiter": ["x"]}},
        {"text": {"decimal": ""}},
        {"text": {"heading_line": -1}},
        {"text": {"heading_line": 4, "first_row_line": 4}},
        {"text": {"first_row_line": 0}},
        {"text": {"time_column": 0, "time_unit": "ms"}},
        {"text": {"time_unit": "days"}},
        {"text": {"shape": "ab"}},
    ],
    ids=lambda data: json.dumps(data)[:60],
)
def test_what_cannot_be_meant_is_one_sentence(data: object) -> None:
    with pytest.raises(CorrectionError) as refused:
        Correction.from_json(data)
    sentence = str(refused.value)
    assert sentence.endswith(".")
    assert "\n" not in sentence
