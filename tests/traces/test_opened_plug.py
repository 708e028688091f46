"""A plug that was out for one capture: asked for, analysed, learnt from, and not carried on."""

import io
import json
from dataclasses import replace

import numpy as np
import pytest
from django.core.management import call_command
from django.urls import reverse

from tests.traces.conftest import csv_bytes
from tests.traces.core.cranked import cranked
from tests.traces.core.synthetic import Crank
from tests.traces.judged_runs import judged_run
from tests.traces.setup_form import filled_in
from tests.wording import says
from traces.core.waveform.waveform import Waveform
from traces.forms.setup_offers import setup_initial
from traces.models import EventAngle
from traces.runs.analysing import run_analyse
from traces.selectors.offered_setups import last_setup
from traces.services import (
    KnownGoodError,
    event_angle_learn,
    known_good_keep,
    run_add,
    run_like_add,
)
from traces.simulator.scenarios import draw
from traces.simulator.simulate import simulate_many

CAM_DEG = -210.0
OPENED = 3


def csv_of(waveform: Waveform) -> bytes:
    text = io.StringIO("")
    text.write("time (s)," + ",".join(f"{c.name} (V)" for c in waveform.channels) + "\n")
    clamp = waveform.channels[0].values
    times_s = np.arange(clamp.size) / waveform.rate_hz
    np.savetxt(
        text, np.column_stack([times_s, *(c.values for c in waveform.channels)]), "%.4f", ","
    )
    return text.getvalue().encode()


class TestTheSetUp:
    @pytest.fixture
    def reading(self, add_read):
        return add_read().reading

    def test_the_cylinder_is_taken_over(self, reading, cast, engine):
        form = filled_in(reading, cast.diagnostician, engine, opened_plug="3")
        assert form.is_valid(), form.errors
        assert form.given.analysis.opened_plug == 3

    def test_none_is_the_usual_answer(self, reading, cast, engine):
        form = filled_in(reading, cast.diagnostician, engine)
        assert form.is_valid(), form.errors
        assert form.given.analysis.opened_plug is None

    @pytest.mark.parametrize("typed", ["0", "5", "x"])
    def test_a_cylinder_the_engine_lacks_is_asked_back_at_its_field(
        self, reading, cast, engine, typed
    ):
        form = filled_in(reading, cast.diagnostician, engine, opened_plug=typed)
        assert set(form.errors) == {"opened_plug"}

    def test_the_page_says_what_has_to_be_off_beside_the_field(self, reading, cast, client_for):
        page = client_for(cast.diagnostician).get(
            reverse("traces:setup", args=[reading.capture.pk])
        )
        text = page.content.decode()
        assert 'name="opened_plug"' in text
        assert says(text, "setup_fields.only-if-one-plug")

    def test_only_the_capture_itself_is_offered_it_again(self, add_read, cast, engine):
        capture = add_read()
        form = filled_in(capture.reading, cast.diagnostician, engine, opened_plug="3")
        assert form.is_valid(), form.errors
        run = run_add(
            member=cast.diagnostician,
            capture=capture,
            analysis=form.given.analysis,
            engine=engine,
        )
        member, another = cast.diagnostician, add_read(csv_bytes(7.0, 200.0, 3), name="b.csv")
        own = setup_initial(capture.reading, last_setup(member, capture), engine)
        assert own["opened_plug"] == 3
        next_one = setup_initial(another.reading, last_setup(member, another), engine)
        assert "opened_plug" not in next_one
        same = run_like_add(member=member, capture=another, like=run.setup)
        assert same.setup.analysis == replace(run.setup.analysis, opened_plug=None)


def test_the_angle_learnt_beside_it_names_the_cylinders_of_the_next_capture(add_read, cast, engine):
    drawn = replace(draw(612, layout="I4", fault="none", family="a", sync="720"), rate_hz=1000.0)
    assert drawn.sync
    sync = replace(drawn.sync, event="cam", cylinder=1, angle_deg=CAM_DEG, entered_angle_deg=None)
    cylinders = list(drawn.engine.cylinders)
    weak = [*cylinders]
    cylinders[OPENED - 1] = replace(cylinders[OPENED - 1], fault_leak_mm2=95.0, faulty=True)
    weak[1] = replace(weak[1], fault_leak_mm2=5.0, faulty=True)
    first, second = simulate_many(
        [
            replace(drawn, sync=sync, engine=replace(drawn.engine, cylinders=tuple(which)))
            for which in (cylinders, weak)
        ]
    )
    member = cast.diagnostician
    capture = add_read(csv_of(first.waveform), name="opened.csv")
    run = run_add(
        member=member,
        capture=capture,
        analysis=replace(first.scenario.setup(), opened_plug=OPENED),
        engine=engine,
    )
    run_analyse(run.pk)
    run.refresh_from_db()
    assert run.report is not None
    assert run.report.open_cylinder == OPENED
    assert run.verdict == "even"
    assert run.report.parts.event_angle is not None
    assert run.report.parts.event_angle.angle_deg == pytest.approx(CAM_DEG, abs=12)
    entry = event_angle_learn(member=member, run=run)
    assert entry == EventAngle.objects.get()
    assert (entry.engine, entry.event, entry.cylinder) == (engine, "cam", 1)
    assert (entry.created_by, entry.run) == (member, run)
    assert f"cylinder {OPENED}" in entry.known_from

    following = add_read(csv_of(second.waveform), name="closed.csv")
    later = run_like_add(member=member, capture=following, like=run.setup)
    asked = later.setup.analysis
    assert asked.opened_plug is None
    assert asked.sync is not None
    assert (asked.sync.angle_deg, asked.sync.angle_from) == (entry.angle_deg, "kept")
    run_analyse(later.pk)
    later.refresh_from_db()
    assert later.report is not None
    assert later.report.candidates == ((2,),)
    assert later.report.cylinders_known
    note = later.report.sync_note
    assert says(note, "sync_note.kept-engine-degrees-before", angle=f"{abs(entry.angle_deg):.0f}")


def test_a_capture_with_a_plug_out_is_no_measure_for_others(add_read, cast, engine):
    report, setup, truth = cranked("I4", 2)
    made = (report, replace(setup, opened_plug=2), truth)
    run = judged_run(add_read, cast.diagnostician, made, engine)
    with pytest.raises(KnownGoodError):
        known_good_keep(member=cast.diagnostician, run=run)


class TestOnTheCommandLine:
    ENGINE = ("--firing-order", "1-3-4-2", "--current-channel", "clamp", "--mv-per-a", "10")

    @pytest.fixture
    def folder(self, tmp_path):
        crank = Crank(strengths=(1.0, 1.0, 0.0, 1.0), rate_hz=1000.0)
        (tmp_path / "opened.csv").write_bytes(csv_of(crank.waveform()))
        return tmp_path

    def test_it_names_the_cylinders_and_measures_the_sync(self, folder, capsys):
        sync = ("--sync-channel", "coil", "--sync-cylinder", "1", "--sync-event", "cam")
        file = str(folder / "opened.csv")
        call_command("balance", file, *self.ENGINE, *sync, "--opened-plug", "3", "--json")
        result = json.loads(capsys.readouterr().out)
        assert (result["verdict"], result["candidates"]) == ("even", [[]])
        calls = [figure["call"] for figure in result["cylinders"]]
        assert calls == ["sound", "sound", "open", "sound"]
        assert (result["event_angle"]["event"], result["event_angle"]["cylinder"]) == ("cam", 1)

    def test_a_manifest_says_it_too(self, folder):
        line = {
            "file": "opened.csv",
            "firing_order": "1-3-4-2",
            "current": {"channel": "clamp", "mv_per_a": 10},
        }
        lines = [line | {"opened_plug": opened} for opened in (3, 5, "three")]
        (folder / "m.jsonl").write_text("\n".join(map(json.dumps, lines)), encoding="utf-8")
        out = folder / "out.jsonl"
        with pytest.raises(SystemExit):
            call_command("balance", "--manifest", str(folder / "m.jsonl"), "--out", str(out))
        found, lacking, misread = (json.loads(row) for row in out.read_text().splitlines())
        assert found["cylinders"][2]["call"] == "open"
        assert found["event_angle"] is None
        assert lacking["error"]
        assert misread["error"]
