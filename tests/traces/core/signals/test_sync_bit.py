"""One bit of a bit mask as sync event."""

from dataclasses import replace

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from tests.wording import says
from traces.core.setup.analysis_setup import AnalysisSetup, SetupError, SyncSetup
from traces.core.signals.bits import with_sync_bit
from traces.core.waveform.waveform import Channel, Waveform

SETUP = AnalysisSetup(
    FiringOrder.parse("1-3-4-2"),
    "V",
    1000.0,
    sync=SyncSetup("Mask", 1, "injector", bit=0),
    signal="battery-voltage",
)


def recording(mask: list[float]) -> Waveform:
    values = np.array(mask, dtype=np.float32)
    channels = (Channel("V", "V", np.ones(values.size, dtype=np.float32)),)
    return Waveform(0.0, 100.0, (*channels, Channel("Mask", None, values)))


@pytest.mark.parametrize(
    ("bit", "wanted"), [(0, [0, 1, 0, 1, 0]), (1, [0, 0, 1, 1, 0]), (3, [0, 0, 0, 0, 1])]
)
def test_the_bit_alone_is_the_event(bit: int, wanted: list[int]) -> None:
    assert SETUP.sync is not None
    setup = replace(SETUP, sync=replace(SETUP.sync, bit=bit))
    found = with_sync_bit(recording([0, 1, 2, 3, 8]), setup)
    assert found.channel("Mask").values.tolist() == wanted
    assert found.channel("V").values.tolist() == [1.0] * 5


def test_without_a_bit_the_recording_stays_as_it_is() -> None:
    whole = recording([0, 1, 2])
    assert with_sync_bit(whole, replace(SETUP, sync=None)) is whole


def test_gaps_stay_gaps() -> None:
    found = with_sync_bit(recording([1, np.nan, 0]), SETUP)
    assert np.isnan(found.channel("Mask").values).tolist() == [False, True, False]


@pytest.mark.parametrize("mask", [[0.0, 0.5, 1.0], [0.0, -1.0, 1.0], [0.0, 2.0**40], [1e30, 1.0]])
def test_a_channel_that_is_no_mask_is_refused(mask: list[float]) -> None:
    with pytest.raises(SetupError) as refused:
        with_sync_bit(recording(mask), SETUP)
    assert says(refused.value, "bits.channel-no-bit-mask")


def test_a_channel_that_is_not_there_is_told() -> None:
    assert SETUP.sync is not None
    setup = replace(SETUP, sync=replace(SETUP.sync, channel="Nowhere"))
    with pytest.raises(SetupError, match="There is no channel"):
        with_sync_bit(recording([0, 1]), setup)


@pytest.mark.parametrize("mask", [2**24 + 1, 2**25 - 1, 2**31])
@pytest.mark.parametrize("bit", [0, 24])
def test_a_mask_that_samples_cannot_hold_is_refused(mask: int, bit: int) -> None:
    assert SETUP.sync is not None
    setup = replace(SETUP, sync=replace(SETUP.sync, bit=bit))
    with pytest.raises(SetupError) as refused:
        with_sync_bit(recording([0, mask, 0]), setup)
    assert says(refused.value, "bits.channel-holds-numbers-more", exact_bits=24)


def test_the_widest_mask_that_is_exact_is_read() -> None:
    assert SETUP.sync is not None
    setup = replace(SETUP, sync=replace(SETUP.sync, bit=23))
    found = with_sync_bit(recording([2**24 - 1, 2**23 - 1, 2**23]), setup)
    assert found.channel("Mask").values.tolist() == [1, 0, 1]
