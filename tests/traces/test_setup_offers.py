"""What a set-up form begins with: the set-up before, as far as it fits."""

from collections.abc import Callable
from typing import Any

import pytest

from engines.models import Engine
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes
from tests.traces.setup_form import filled_in
from traces.forms.setup_offers import setup_initial
from traces.models import Capture, CaptureSetup, Run
from traces.selectors.offered_setups import last_setup
from traces.services import run_add


@pytest.fixture
def capture(add_read: Callable[..., Capture]) -> Capture:
    return add_read()


class TestWhatIsOffered:
    """The set-up before, as far as it fits, and never another vehicle's conditions."""

    @pytest.fixture
    def done(self, capture: Capture, cast: Cast, engine: Engine) -> Run:
        form = filled_in(
            capture.reading,
            cast.diagnostician,
            engine,
            scale="other",
            scale_typed="2.5",
            invert="yes",
            sync_cylinder="4",
            fuel_off="yes",
            battery_v="12.4",
            firing_order="1-2-4-3",
        )
        assert form.is_valid()
        given = form.given
        return run_add(
            member=cast.diagnostician,
            capture=capture,
            analysis=given.analysis,
            engine=given.engine,
            conditions=given.conditions,
        )

    def _offered(self, member: Any, capture: Capture, engine: Engine | None = None) -> Any:
        return setup_initial(capture.reading, last_setup(member, capture), engine)

    @pytest.mark.usefixtures("done")
    def test_the_captures_own_set_up_comes_back_whole(
        self, capture: Capture, cast: Cast, engine: Engine
    ) -> None:
        offered = self._offered(cast.owner, capture)
        assert offered["engine"] == engine.pk
        assert (offered["scale"], offered["scale_typed"]) == ("other", 2.5)
        assert offered["firing_order"] == "1-2-4-3"
        assert (offered["current_channel"], offered["sync_channel"]) == ("clamp", "coil")
        assert (offered["sync_cylinder"], offered["invert"]) == (4, "yes")
        assert (offered["fuel_off"], offered["battery_v"]) == ("yes", 12.4)

    @pytest.mark.usefixtures("done")
    def test_a_fuel_other_than_the_engines_comes_back_and_the_vehicles_goes_first(
        self, capture: Capture, cast: Cast, engine: Engine
    ) -> None:
        assert "fuel" not in self._offered(cast.owner, capture)
        Engine.objects.filter(pk=engine.pk).update(fuel="diesel")
        last = last_setup(cast.owner, capture)
        assert setup_initial(capture.reading, last, None)["fuel"] == "petrol"
        assert setup_initial(capture.reading, last, None, "diesel")["fuel"] == "diesel"

    @pytest.mark.usefixtures("done")
    def test_the_next_capture_gets_the_clamp_and_the_channels_and_nothing_of_the_vehicle(
        self, add_read: Callable[..., Capture], cast: Cast
    ) -> None:
        other = add_read(csv_bytes(seed=2))
        assert self._offered(cast.diagnostician, other) == {
            "signal": "starter-current",
            "scale": "other",
            "scale_typed": 2.5,
            "invert": "yes",
            "full_scale_v": None,
            "current_channel": "clamp",
            "sync_channel": "coil",
        }
        assert self._offered(cast.owner, other) == {}

    def test_the_newest_whose_channels_the_file_has_is_offered(
        self, add_read: Callable[..., Capture], cast: Cast, done: Run, engine: Engine
    ) -> None:
        """Two instruments in one shop: a later file of the other one is no reason to ask anew."""
        others = add_read(csv_bytes().replace(b"Time,clamp,coil", b"Time,amps,spark"))
        form = filled_in(
            others.reading,
            cast.diagnostician,
            engine,
            current_channel="amps",
            sync_channel="spark",
            scale="20",
        )
        assert form.is_valid(), form.errors
        given = form.given
        assert done.setup.created_by == cast.diagnostician
        run_add(
            member=cast.diagnostician,
            capture=others,
            analysis=given.analysis,
            engine=given.engine,
            conditions=given.conditions,
        )
        offered = self._offered(cast.diagnostician, add_read(csv_bytes(seed=2)))
        assert (offered["current_channel"], offered["sync_channel"]) == ("clamp", "coil")
        assert offered["scale_typed"] == 2.5

    @pytest.mark.usefixtures("done")
    def test_channels_that_this_file_has_not_are_not_offered(
        self, add_read: Callable[..., Capture], cast: Cast
    ) -> None:
        other = add_read(csv_bytes().replace(b"Time,clamp,coil", b"Time,amps,spark"))
        offered = self._offered(cast.diagnostician, other)
        assert "current_channel" not in offered
        assert offered["sync_channel"] == ""

    @pytest.fixture
    def three(self) -> Engine:
        engine = Engine(key="test-three", name="Inline three", layout="I3", firing_order="1-3-2")
        engine.save()
        return engine

    @pytest.mark.usefixtures("done")
    def test_another_capture_gets_the_vehicles_engine(
        self, add_read: Callable[..., Capture], cast: Cast, three: Engine
    ) -> None:
        offered = self._offered(cast.diagnostician, add_read(csv_bytes(seed=2)), three)
        assert offered["engine"] == three.pk
        assert "firing_order" not in offered
        assert "sync_cylinder" not in offered

    @pytest.mark.usefixtures("done")
    def test_the_same_capture_keeps_the_engine_it_was_analysed_with(
        self, capture: Capture, cast: Cast, engine: Engine, three: Engine
    ) -> None:
        offered = self._offered(cast.diagnostician, capture, three)
        assert offered["engine"] == engine.pk
        assert offered["firing_order"] == "1-2-4-3"
        assert offered["sync_cylinder"] == 4

    def test_a_set_up_without_an_engine_offers_its_firing_order(
        self, done: Run, capture: Capture, cast: Cast, engine: Engine
    ) -> None:
        CaptureSetup.objects.filter(pk=done.setup_id).update(engine=None)
        offered = self._offered(cast.diagnostician, capture, engine)
        assert (offered["engine"], offered["firing_order"]) == (engine.pk, "1-2-4-3")
        offered = self._offered(cast.diagnostician, capture)
        assert "engine" not in offered
        assert offered["firing_order"] == "1-2-4-3"

    @pytest.mark.usefixtures("done")
    def test_another_shops_set_ups_are_not_offered(
        self, add_read: Callable[..., Capture], cast: Cast
    ) -> None:
        CaptureSetup.objects.update(created_by=cast.outsider)
        theirs = add_read(csv_bytes(seed=3), member=cast.outsider)
        assert self._offered(cast.outsider, theirs) == {}


def test_what_another_signal_was_set_up_with_is_offered_again(
    capture: Capture, cast: Cast, engine: Engine
) -> None:
    form = filled_in(
        capture.reading,
        cast.diagnostician,
        engine,
        signal="crank-teeth",
        wheel_teeth="60",
        wheel_missing="2",
    )
    assert form.is_valid(), form.errors
    given = form.given
    run_add(
        member=cast.diagnostician, capture=capture, analysis=given.analysis, engine=given.engine
    )
    offered = setup_initial(capture.reading, last_setup(cast.diagnostician, capture), None)
    assert offered["signal"] == "crank-teeth"
    assert (offered["wheel_teeth"], offered["wheel_missing"]) == (60, 2)
    assert offered["wheel_pattern"] == ""
    assert "scale" not in offered
