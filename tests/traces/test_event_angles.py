"""Angles of injector events and cam edges: typed or measured, kept with the engine, used again."""

import io
from dataclasses import replace

import numpy as np
import pytest
from django.urls import reverse

from shopdiag.people.core.roles import Role
from tests.traces.core.cranked import cranked
from tests.traces.judged_runs import judged_run
from tests.traces.setup_form import filled_in
from traces.core.report.parts import MeasuredEventAngle
from traces.core.setup.analysis_setup import EventToMeasure
from traces.models import CaptureSetup, EventAngle
from traces.runs.analysing import run_analyse
from traces.selectors.event_angles import event_angle_of
from traces.services import (
    EventAngleError,
    event_angle_keep,
    event_angle_learn,
    event_angle_retire,
    run_add,
)
from traces.simulator.scenarios import draw
from traces.simulator.simulate import simulate_many

LIST = "/captures/event-angles/"
MEASURED = MeasuredEventAngle(
    angle_deg=-328.2,
    spread_deg=6.2,
    count=9,
    other_angles_deg=(),
    event="injector",
    cylinder=3,
    channel="injector 3",
)


def sync_of(form):
    assert form.is_valid(), form.errors
    return form.given.analysis.sync


@pytest.fixture
def reading(add_read):
    return add_read().reading


@pytest.fixture
def kept(cast, engine):
    return event_angle_keep(
        member=cast.diagnostician,
        engine=engine,
        event="cam",
        cylinder=1,
        angle_deg=-84.0,
        known_from="the maker's diagram",
    )


@pytest.fixture
def measured(add_read, cast, engine):
    report, setup, truth = cranked("I4", 2)
    report = replace(report, parts=replace(report.parts, event_angle=MEASURED))
    return judged_run(add_read, cast.diagnostician, (report, setup, truth), engine)


class TestTheSetUp:
    def test_an_angle_needs_its_source(self, reading, cast, engine):
        form = filled_in(reading, cast.diagnostician, engine, sync_event="cam", sync_angle="-84")
        assert set(form.errors) == {"sync_angle_known_from"}

    @pytest.mark.parametrize("typed", ["-84,5", "-84.5"])
    def test_a_typed_angle_is_used_and_kept_once(self, reading, cast, engine, typed):
        form = filled_in(
            reading,
            cast.diagnostician,
            engine,
            sync_event="cam",
            sync_angle=typed,
            sync_angle_known_from="the maker's diagram",
        )
        assert form.is_valid(), form.errors
        for _ in range(2):
            run_add(
                member=cast.diagnostician,
                capture=reading.capture,
                analysis=form.given.analysis,
                engine=engine,
                angle_known_from=form.given.angle_known_from,
            )
        setup = CaptureSetup.objects.latest("pk").analysis
        assert setup.sync is not None
        assert (setup.sync.angle_deg, setup.sync.angle_from) == (-84.5, "typed")
        entry = EventAngle.objects.get()
        assert (entry.engine, entry.event, entry.cylinder) == (engine, "cam", 1)
        assert (entry.angle_deg, entry.spread_deg) == (-84.5, None)

    @pytest.mark.usefixtures("kept")
    def test_the_kept_angle_counts_where_none_is_typed(self, reading, cast, engine):
        sync = sync_of(filled_in(reading, cast.diagnostician, engine, sync_event="cam"))
        assert (sync.angle_deg, sync.angle_from) == (-84.0, "kept")

    @pytest.mark.usefixtures("kept")
    @pytest.mark.parametrize(
        "given", [{"sync_event": "injector"}, {"sync_event": "cam", "sync_cylinder": "2"}]
    )
    def test_another_event_or_cylinder_has_none(self, reading, cast, engine, given):
        sync = sync_of(filled_in(reading, cast.diagnostician, engine, **given))
        assert sync.angle_deg is None

    def test_ignition_takes_no_angle_from_a_hidden_field(self, reading, cast, engine):
        sync = sync_of(filled_in(reading, cast.diagnostician, engine, sync_angle="-84"))
        assert sync.angle_deg is None

    @pytest.mark.usefixtures("kept")
    def test_another_engine_or_shop_has_none(self, cast, engine, other_engine):
        owner = cast.diagnostician
        assert event_angle_of(owner, other_engine, event="cam", cylinder=1) is None
        assert event_angle_of(cast.other_owner, engine, event="cam", cylinder=1) is None

    def test_the_newest_counts_until_it_is_retired(self, cast, engine, kept):
        newer = event_angle_keep(
            member=cast.owner,
            engine=engine,
            event="cam",
            cylinder=1,
            angle_deg=-80.0,
            known_from="measured by hand",
        )
        assert event_angle_of(cast.owner, engine, event="cam", cylinder=1) == newer
        assert event_angle_retire(member=cast.owner, entry=newer)
        assert event_angle_of(cast.owner, engine, event="cam", cylinder=1) == kept

    def test_a_channel_to_measure_is_asked_for_its_cylinder(self, reading, cast, engine):
        form = filled_in(reading, cast.diagnostician, engine, measured_channel="coil")
        assert set(form.errors) == {"measured_channel"}, "that is the sync itself"
        free = {"sync_channel": "", "sync_cylinder": "", "measured_channel": "coil"}
        form = filled_in(reading, cast.diagnostician, engine, **free)
        assert set(form.errors) == {"measured_cylinder"}
        form = filled_in(reading, cast.diagnostician, engine, **free, measured_cylinder="3")
        assert form.is_valid(), form.errors
        assert form.given.analysis.measured_event == EventToMeasure("coil", "cam", 3)


class TestLearning:
    def test_a_measured_angle_is_kept_with_the_engine_once(
        self, measured, cast, engine, client_for
    ):
        client = client_for(cast.diagnostician)
        here = reverse("traces:run", args=[measured.capture_id, measured.pk])
        address = reverse("traces:event-angle-learn", args=[measured.capture_id, measured.pk])
        assert address in client.get(here).content.decode()
        for _ in range(2):
            assert client.post(address).headers["Location"] == here
        entry = EventAngle.objects.get()
        assert (entry.engine, entry.event, entry.cylinder) == (engine, "injector", 3)
        assert (entry.angle_deg, entry.spread_deg, entry.run) == (-328.2, 6.2, measured)
        text = client.get(LIST).content.decode()
        assert "−328°" in text
        assert engine.name in text

    def test_what_measured_nothing_keeps_nothing(self, add_read, cast, engine):
        plain = judged_run(add_read, cast.diagnostician, cranked("I4", 2), engine)
        with pytest.raises(EventAngleError):
            event_angle_learn(member=cast.diagnostician, run=plain)
        assert not EventAngle.objects.exists()

    @pytest.mark.parametrize("role", [Role.MECHANIC, Role.WRITER])
    def test_others_read_it_but_change_nothing(self, measured, kept, cast, client_for, role):
        client = client_for(cast.insiders[role])
        text = client.get(LIST).content.decode()
        assert "−84°" in text
        assert "/retire/" not in text
        learn = reverse("traces:event-angle-learn", args=[measured.capture_id, measured.pk])
        retire = reverse("traces:event-angle-retire", args=[kept.pk])
        assert client.post(learn).status_code == client.post(retire).status_code == 403

    def test_another_shop_sees_and_retires_nothing(self, kept, cast, client_for):
        client = client_for(cast.other_owner)
        assert "−84°" not in client.get(LIST).content.decode()
        assert client.post(reverse("traces:event-angle-retire", args=[kept.pk])).status_code == 404

    def test_a_retired_one_is_shown_when_asked_for(self, kept, cast, client_for):
        client = client_for(cast.diagnostician)
        client.post(reverse("traces:event-angle-retire", args=[kept.pk]))
        assert "−84°" not in client.get(LIST).content.decode()
        assert "−84°" in client.get(LIST, {"show": "retired"}).content.decode()


def test_the_worker_measures_what_the_set_up_asks_for(add_read, cast, engine):
    """From a file with clamp, ignition and injector to an angle that the next capture uses."""
    drawn = replace(draw(610, layout="I4", fault="one", family="a", sync="720"), rate_hz=1000.0)
    assert drawn.sync
    spark = replace(drawn, sync=replace(drawn.sync, event="ignition", angle_deg=-8.0))
    sprayed = replace(drawn, sync=replace(drawn.sync, event="injector", angle_deg=-330.0))
    sparks, injections = simulate_many([spark, sprayed])
    clamp, ignition = (channel.values for channel in sparks.waveform.channels)
    columns = np.column_stack(
        [np.arange(clamp.size) / 1000.0, clamp, ignition, injections.waveform.channels[1].values]
    )
    text = io.StringIO("")
    text.write("time (s),clamp (V),coil (V),injector (V)\n")
    np.savetxt(text, columns, fmt="%.4f", delimiter=",")
    capture = add_read(text.getvalue().encode())
    setup = sparks.scenario.setup()
    assert setup.sync
    cylinder = setup.sync.cylinder
    asked = replace(
        setup,
        current_channel="clamp",
        sync=replace(setup.sync, channel="coil"),
        measured_event=EventToMeasure("injector", "injector", cylinder),
    )
    run = run_add(member=cast.diagnostician, capture=capture, analysis=asked, engine=engine)
    run_analyse(run.pk)
    run.refresh_from_db()
    assert run.report is not None
    assert run.report.parts.event_angle is not None
    assert run.report.parts.event_angle.angle_deg == pytest.approx(-330, abs=9)
    entry = event_angle_learn(member=cast.diagnostician, run=run)
    form = filled_in(
        capture.reading,
        cast.diagnostician,
        engine,
        current_channel="clamp",
        sync_channel="injector",
        sync_event="injector",
        sync_cylinder=str(cylinder),
        scale="other",
        scale_typed=str(setup.mv_per_a),
    )
    sync = sync_of(form)
    assert (sync.angle_deg, sync.angle_from) == (entry.angle_deg, "kept")
    later = run_add(
        member=cast.diagnostician,
        capture=capture,
        analysis=form.given.analysis,
        engine=engine,
    )
    run_analyse(later.pk)
    later.refresh_from_db()
    assert later.report is not None
    assert later.report.cylinders_known
    assert later.report.candidates == run.report.candidates
