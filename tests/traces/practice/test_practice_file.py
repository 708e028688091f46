"""The file that everybody may try: it is what the simulator makes, and it can be judged."""

from pathlib import Path

import numpy as np
from django.test import Client
from django.urls import reverse

from engines.core.firing import FiringOrder
from traces import practice
from traces.core.analysis import judge
from traces.core.readers import read
from traces.practice.runs.practice_file import HEADER, WEAK, practice_capture, practice_scenario

FILE = Path(practice.__file__).parent / "data" / "practice-crank.csv"


def test_it_is_what_the_simulator_makes_and_says_so():
    lines = FILE.read_text(encoding="utf-8").splitlines()
    assert tuple(line.removeprefix("# ") for line in lines[:2]) == HEADER
    table = np.loadtxt(FILE, delimiter=",", skiprows=3)
    made = practice_capture().waveform
    for column, channel in enumerate(made.channels, start=1):
        # A bit of the recorder either way, where another machine rounds otherwise.
        assert np.allclose(table[:, column], channel.values, atol=0.011)


def test_it_is_read_and_names_the_weak_cylinder():
    assert practice_scenario().engine.firing_order == FiringOrder.parse("1-3-4-2")
    waveform = read(FILE).waveform
    report = judge(waveform, practice_scenario().setup())
    assert (report.verdict, report.candidates) == ("uneven", ((WEAK,),))


def test_everybody_of_a_shop_may_have_it(cast, client_for):
    address = reverse("practice:file")
    for member in cast.insiders.values():
        answer = client_for(member).get(address)
        assert answer.content == FILE.read_bytes()
        assert "attachment" in answer["Content-Disposition"]
    assert Client().get(address).status_code == 302
