"""The demo's recordings: each channel by what it carries, and set up by those names."""

import re

import pytest

from jobs.demo.captures import record, setup_of
from jobs.demo.stories import STORIES
from jobs.demo.story import DemoCrank

CRANKS = [story.crank for story in STORIES]


@pytest.mark.parametrize("crank", CRANKS, ids=lambda crank: crank.file_name)
def test_set_ups_name_channels_by_what_they_carry(crank: DemoCrank) -> None:
    setup = setup_of(crank)
    names = [setup.current_channel, setup.voltage_channel, setup.sync and setup.sync.channel]
    assert not [name for name in names if name and re.fullmatch(r"[A-Za-z]{1,2}", name)]


def test_a_recording_has_the_channels_of_its_set_up() -> None:
    crank = next(crank for crank in CRANKS if crank.battery)
    setup = setup_of(crank)
    assert setup.sync is not None
    heads = record([crank])[0].read().splitlines()[0].decode()
    wanted = [setup.current_channel, setup.sync.channel, setup.voltage_channel]
    assert heads == ",".join(["Time [s]", *(f"{name} [V]" for name in wanted)])
