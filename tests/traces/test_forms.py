"""The set-up form: what fits becomes a set-up, what does not gets a sentence at its field."""

from collections.abc import Callable
from typing import Any

import pytest

from engines.models import Engine
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes, reference
from tests.traces.setup_form import filled_in
from tests.wording import named, says, says_only
from traces.core.setup.analysis_setup import SetupError, SyncSetup, ToothWheel
from traces.forms.setup import SetupForm
from traces.models import Capture, CaptureSetup, Run
from traces.services import Conditions, run_add


@pytest.fixture
def capture(add_read: Callable[..., Capture]) -> Capture:
    return add_read()


@pytest.fixture
def fill(capture: Capture, cast: Cast, engine: Engine) -> Callable[..., SetupForm]:
    """Fill the form in as it should be, but for what the test gives."""

    def form(of: Capture | None = None, **given: Any) -> SetupForm:
        return filled_in((of or capture).reading, cast.diagnostician, engine, **given)

    return form


def _error(form: SetupForm, field: str) -> str:
    assert not form.is_valid()
    assert set(form.errors) == {field}, form.errors
    assert len(form.errors[field]) == 1
    return str(form.errors[field][0])


def test_what_is_filled_in_becomes_a_set_up(fill: Callable[..., SetupForm], engine: Engine) -> None:
    form = fill(
        fuel_off="yes", charger_off="no", throttle="open", temperature="warm", battery_v="12.6"
    )
    assert form.is_valid(), form.errors
    given = form.given
    assert given.engine == engine
    assert str(given.analysis.firing_order) == "1-3-4-2"
    assert given.analysis.current_channel == "clamp"
    assert given.analysis.mv_per_a == 10
    assert given.analysis.invert is None
    assert given.analysis.sync == SyncSetup("coil", 1, "ignition", 720)
    assert given.analysis.fuel == "petrol"
    assert given.conditions == Conditions(
        fuel_off=True, charger_off=False, throttle="open", temperature="warm", battery_v=12.6
    )


def test_conditions_may_stay_open(fill: Callable[..., SetupForm]) -> None:
    form = fill()
    assert form.is_valid()
    assert form.given.conditions == Conditions()


def test_the_shops_limits_and_the_engines_fuel_are_taken(
    fill: Callable[..., SetupForm], cast: Cast, engine: Engine
) -> None:
    cast.shop.suspect_below, cast.shop.watch_below = 0.7, 0.85
    cast.shop.bank_even_within = 0.07
    cast.shop.save()
    cast.diagnostician.shop.refresh_from_db()
    Engine.objects.filter(pk=engine.pk).update(fuel="diesel")
    form = fill()
    assert form.is_valid()
    analysis = form.given.analysis
    assert (analysis.suspect_below, analysis.watch_below) == (0.7, 0.85)
    assert analysis.bank_even_within == 0.07
    assert analysis.fuel == "diesel"
    other = fill(fuel="petrol")
    assert other.is_valid()
    assert other.given.analysis.fuel == "petrol"
    assert set(fill(fuel="coal").errors) == {"fuel"}


@pytest.mark.parametrize(("invert", "meant"), [("auto", None), ("yes", True), ("no", False)])
def test_the_sign(fill: Callable[..., SetupForm], invert: str, meant: bool | None) -> None:
    form = fill(invert=invert)
    assert form.is_valid()
    assert form.given.analysis.invert is meant


def test_no_sync_needs_no_cylinder(fill: Callable[..., SetupForm]) -> None:
    form = fill(sync_channel="", sync_cylinder="")
    assert form.is_valid()
    assert form.given.analysis.sync is None


def test_a_sync_every_turn(fill: Callable[..., SetupForm]) -> None:
    form = fill(sync_every="360", sync_event="injector")
    assert form.is_valid()
    assert form.given.analysis.sync == SyncSetup("coil", 1, "injector", 360)


def test_a_typed_scale(fill: Callable[..., SetupForm]) -> None:
    form = fill(scale="other", scale_typed="2.5")
    assert form.is_valid()
    assert form.given.analysis.mv_per_a == 2.5


def test_a_scale_that_is_only_typed_counts(fill: Callable[..., SetupForm]) -> None:
    form = fill(scale="", scale_typed="2,5")
    assert form.is_valid()
    assert form.given.analysis.mv_per_a == 2.5


@pytest.mark.parametrize("scale", ["2", "20"])
def test_clamps_of_2_and_20_mv_per_a_are_offered(
    fill: Callable[..., SetupForm], scale: str
) -> None:
    form = fill(scale=scale)
    assert form.is_valid()
    assert form.given.analysis.mv_per_a == float(scale)


def test_a_scale_that_is_chosen_and_typed_alike_is_one(fill: Callable[..., SetupForm]) -> None:
    form = fill(scale="10", scale_typed="10,0")
    assert form.is_valid()
    assert form.given.analysis.mv_per_a == 10.0


@pytest.mark.parametrize(
    ("given", "field", "part"),
    [
        ({"engine": ""}, "engine", named("manual_edits.choose-engine")),
        (
            {"scale": "10", "scale_typed": "20"},
            "scale_typed",
            named("setup.mv-chosen-above-typed", choice=10),
        ),
        ({"engine": "999999"}, "engine", named("manual_edits.engine-not-your-shop")),
        ({"scale": ""}, "scale", named("setup_fields.choose-clamp-scale-read")),
        ({"scale": "7"}, "scale", named("setup_fields.choose-clamp-scale-read")),
        ({"scale": "other"}, "scale_typed", named("setup.type-clamp-scale-mv")),
        (
            {"scale": "other", "scale_typed": "ten"},
            "scale_typed",
            named("clamps.type-scale-number-like"),
        ),
        (
            {"scale": "other", "scale_typed": "0"},
            "scale_typed",
            named("setup.scale-lies-between-0"),
        ),
        (
            {"scale": "other", "scale_typed": "nan"},
            "scale_typed",
            named("clamps.type-scale-number-like"),
        ),
        ({"current_channel": ""}, "current_channel", named("setup_fields.choose-channel-judged")),
        (
            {"current_channel": "battery"},
            "current_channel",
            named("setup_fields.file-no-such-channel"),
        ),
        ({"sync_channel": "battery"}, "sync_channel", named("setup_fields.file-no-such-channel")),
        ({"sync_channel": "clamp"}, "sync_channel", named("analysis_setup.clamp-sync-cannot-same")),
        ({"sync_cylinder": ""}, "sync_cylinder", named("setup.say-cylinder-pick-up")),
        (
            {"sync_channel": "", "sync_cylinder": "3"},
            "sync_channel",
            named("setup.choose-channel-pick-up", cylinder=3),
        ),
        (
            {"sync_cylinder": "5"},
            "sync_cylinder",
            named("setup.engine-no-cylinder-firing", cylinder=5),
        ),
        ({"sync_cylinder": "0"}, "sync_cylinder", named("setup_fields.cylinders-count-from-1")),
        (
            {"firing_order": "1-3-4"},
            "firing_order",
            named("firing.cylinder-missing-from-firing", missing=2),
        ),
        (
            {"firing_order": "1-3-5-2"},
            "firing_order",
            named("firing.cylinder-missing-from-firing", missing=4),
        ),
        ({"firing_order": "1-3-3-2"}, "firing_order", named("firing.cylinder-stands-twice-firing")),
        ({"firing_order": "one two"}, "firing_order", named("firing.not-firing-order-give")),
        (
            {"firing_order": "1-3-2"},
            "firing_order",
            named("engines-models.engine-cylinders-firing-order", cylinders=4, count=3),
        ),
        ({"battery_v": "126"}, "battery_v", named("setup_fields.battery-voltage-lies-between")),
        ({"battery_v": "1.26"}, "battery_v", named("setup_fields.battery-voltage-lies-between")),
        ({"form_token": "x"}, "form_token", named("setup_fields.page-damaged-open-anew")),
    ],
)
def test_what_does_not_fit_gets_a_sentence_at_its_field(
    fill: Callable[..., SetupForm], given: dict[str, str], field: str, part: str
) -> None:
    form = fill(**given)
    assert says(_error(form, field), part)
    for name, value in given.items():
        assert form[name].value() == value, "what was typed stays"


def test_an_order_of_its_own_wins_over_the_engines(fill: Callable[..., SetupForm]) -> None:
    form = fill(firing_order="1 2 4 3")
    assert form.is_valid()
    assert str(form.given.analysis.firing_order) == "1-2-4-3"


def test_a_firing_order_of_another_count_is_refused_in_full(
    fill: Callable[..., SetupForm],
) -> None:
    six = Engine(key="test-six", name="Inline six", layout="I6", firing_order="1-5-3-6-2-4")
    six.save()
    assert says_only(
        _error(fill(engine=six.pk, firing_order="1-3-4-2"), "firing_order"),
        "engines-models.engine-cylinders-firing-order",
        cylinders=6,
        count=4,
    )


def test_an_uneven_engine_stays_uneven(fill: Callable[..., SetupForm], engine: Engine) -> None:
    angles = [0, 150, 240, 390, 480, 630]
    odd = Engine(
        key="test-odd", name="Odd six", layout="V6", firing_order="1-6-5-4-3-2", tdc_angles=angles
    )
    odd.save()
    form = fill(engine=odd.pk)
    assert form.is_valid()
    assert list(form.given.analysis.firing_order.tdc_angles_deg) == angles
    form = fill(engine=odd.pk, firing_order="1-2-3-4-5-6")
    assert form.is_valid()
    assert list(form.given.analysis.firing_order.tdc_angles_deg) == angles


def test_another_shops_engine_cannot_be_chosen(fill: Callable[..., SetupForm], cast: Cast) -> None:
    theirs = Engine(
        shop=cast.other_shop, name="Theirs", layout="I4", firing_order="1-3-4-2", source="x"
    )
    theirs.save()
    assert says(_error(fill(engine=theirs.pk), "engine"), "manual_edits.engine-not-your-shop")


def test_a_recording_in_shares_of_full_scale_asks_for_volts(
    fill: Callable[..., SetupForm], add_read: Callable[..., Capture]
) -> None:
    wav = add_read(reference("ref-04.wav").read_bytes(), name="crank.wav")
    form = fill(of=wav)
    assert says_only(_error(form, "__all__"), "runs.file-holds-values-fraction")
    form = fill(of=wav, full_scale_v="5")
    assert form.is_valid()
    assert form.given.analysis.full_scale_v == 5
    assert says(
        _error(fill(of=wav, full_scale_v="-1"), "__all__"),
        "analysis_setup.full-scale-must-positive",
    )


def test_only_a_file_without_its_rate_asks_for_it(
    fill: Callable[..., SetupForm], add_read: Callable[..., Capture]
) -> None:
    assert "rate_hz" not in fill().fields
    rows = b"".join(b"%d,%d\n" % (i % 7, i % 3) for i in range(200))
    bare = add_read(b"clamp,coil\n" + rows)
    assert "sample rate" in _error(fill(of=bare), "__all__")
    form = fill(of=bare, rate_hz="2000")
    assert form.is_valid()
    assert form.given.analysis.rate_hz == 2000


def test_a_channel_in_amps_needs_no_scale(
    fill: Callable[..., SetupForm], add_read: Callable[..., Capture]
) -> None:
    amps = add_read(csv_bytes().replace(b"(s),(V),(V)", b"(s),(A),(V)"))
    assert amps.reading.channels[0]["unit"] == "A"
    form = fill(of=amps, scale="")
    assert form.is_valid(), form.errors
    assert says(
        _error(
            fill(of=amps, scale="", current_channel="coil", sync_channel="", sync_cylinder=""),
            "scale",
        ),
        "setup_fields.choose-clamp-scale-read",
    )


class TestRunAdd:
    """The service keeps the same rules for callers without a form."""

    def test_the_same_token_gives_the_same_run(
        self, fill: Callable[..., SetupForm], capture: Capture, cast: Cast
    ) -> None:
        form = fill()
        assert form.is_valid()
        token = form.cleaned_data["form_token"]
        runs = {
            run_add(
                member=cast.diagnostician,
                capture=capture,
                analysis=form.given.analysis,
                form_token=token,
            ).pk
            for _ in range(2)
        }
        assert len(runs) == Run.objects.count() == CaptureSetup.objects.count() == 1

    def test_a_channel_that_is_not_there(
        self, fill: Callable[..., SetupForm], add_read: Callable[..., Capture], cast: Cast
    ) -> None:
        form = fill()
        assert form.is_valid()
        other = add_read(csv_bytes().replace(b"Time,clamp,coil", b"Time,amps,spark"))
        with pytest.raises(SetupError, match="no channel “clamp” in this file; it has amps, spark"):
            run_add(member=cast.diagnostician, capture=other, analysis=form.given.analysis)
        assert not Run.objects.exists()

    def test_a_file_that_is_not_read_yet(
        self, fill: Callable[..., SetupForm], add: Callable[..., Capture], cast: Cast
    ) -> None:
        form = fill()
        assert form.is_valid()
        with pytest.raises(SetupError) as refused:
            run_add(
                member=cast.diagnostician,
                capture=add(csv_bytes(seed=5)),
                analysis=form.given.analysis,
            )
        assert says(refused.value, "runs.file-not-been-read")


def test_without_an_answer_the_channel_shows_the_starters_current(
    fill: Callable[..., SetupForm],
) -> None:
    form = fill()
    assert form.is_valid(), form.errors
    assert form.given.analysis.signal == "starter-current"
    assert form.given.analysis.voltage_channel is None


def test_battery_voltage_beside_the_current_becomes_part_of_the_set_up(
    fill: Callable[..., SetupForm], add_read: Callable[..., Capture]
) -> None:
    form = fill(sync_channel="", sync_cylinder="", voltage_channel="coil")
    assert form.is_valid(), form.errors
    assert form.given.analysis.voltage_channel == "coil"


@pytest.mark.parametrize("channel", ["clamp", "coil"])
def test_battery_voltage_needs_a_channel_of_its_own(
    fill: Callable[..., SetupForm], channel: str
) -> None:
    assert "choose another" in _error(fill(voltage_channel=channel), "voltage_channel")


def test_other_signals_need_no_clamp_and_drop_what_its_hidden_questions_hold(
    fill: Callable[..., SetupForm],
) -> None:
    form = fill(signal="battery-voltage", scale="", invert="yes", voltage_channel="coil")
    assert form.is_valid(), form.errors
    analysis = form.given.analysis
    assert (analysis.signal, analysis.voltage_channel) == ("battery-voltage", None)
    assert analysis.invert is None


def test_teeth_may_be_told_and_are_dropped_where_they_are_not_asked_for(
    fill: Callable[..., SetupForm],
) -> None:
    told = fill(signal="crank-teeth", wheel_teeth="60", wheel_missing="2", sync_bit="3")
    assert told.is_valid(), told.errors
    assert told.given.analysis.wheel == ToothWheel(60, 2)
    assert told.given.analysis.sync is not None
    assert told.given.analysis.sync.bit == 3
    other = fill(wheel_teeth="60", wheel_missing="2")
    assert other.is_valid(), other.errors
    assert other.given.analysis.wheel == ToothWheel()


def test_a_wheel_is_entered_as_its_pattern(fill: Callable[..., SetupForm]) -> None:
    told = fill(signal="crank-teeth", wheel_pattern="36-2-1-1")
    assert told.is_valid(), told.errors
    assert told.given.analysis.wheel == ToothWheel(36, gaps=(2, 1, 1))
    assert _error(fill(signal="crank-teeth", wheel_pattern="many"), "wheel_pattern")


def test_a_wheel_cannot_miss_most_of_its_teeth(fill: Callable[..., SetupForm]) -> None:
    form = fill(signal="crank-teeth", wheel_teeth="36", wheel_missing="30")
    assert says(_error(form, "wheel_missing"), "tooth_wheel.most-quarter-wheel-teeth")
