"""Set-ups of other signals over the API: what they need, and what is refused."""

from typing import Any

import pytest

from tests.api.conftest import ApiFor, World
from tests.api.endpoints import RUN
from tests.api.kept_world import cast, four, kept, taken, visit, world
from tests.conftest import Cast

__all__ = ["cast", "four", "kept", "taken", "visit", "world"]


def posted(cast: Cast, api_for: ApiFor, world: World, body: dict[str, Any]):
    return api_for(cast.diagnostician).post(f"/api/captures/{world.capture.pk}/runs/", body)


def test_the_starter_current_is_judged_unless_told(cast: Cast, api_for: ApiFor, world: World):
    set_up = posted(cast, api_for, world, {**RUN, "voltage_channel": "coil"}).json()["set_up"]
    assert (set_up["signal"], set_up["voltage_channel"]) == ("starter-current", "coil")


@pytest.mark.parametrize("signal", ["battery-voltage", "crank-teeth"])
def test_other_signals_need_no_scale(cast: Cast, api_for: ApiFor, world: World, signal: str):
    body = {key: value for key, value in RUN.items() if key != "mv_per_a"}
    body |= {"signal": signal, "wheel": {"teeth": 60, "missing": 2}}
    body |= {"sync": {"channel": "coil", "cylinder": 1, "bit": 3}}
    answer = posted(cast, api_for, world, body)
    assert answer.status_code == 202, answer.json()
    set_up = answer.json()["set_up"]
    assert set_up["signal"] == signal
    assert set_up["wheel"] == {"teeth": 60, "missing": 2}
    assert set_up["sync"]["bit"] == 3


def test_a_wheel_is_entered_as_its_pattern(cast: Cast, api_for: ApiFor, world: World):
    body = {**RUN, "signal": "crank-teeth", "wheel": {"pattern": "36-2-1-1"}}
    wheel = posted(cast, api_for, world, body).json()["set_up"]["wheel"]
    assert wheel == {"teeth": 36, "missing": 4, "pattern": "36-2-1-1"}


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"mv_per_a": ...}, "mv_per_a"),
        ({"signal": "smoke"}, "signal"),
        ({"signal": "battery-voltage", "voltage_channel": "coil"}, "detail"),
        ({"voltage_channel": "clamp"}, "detail"),
        ({"voltage_channel": "Q"}, "detail"),
        ({"signal": "crank-teeth", "wheel": {"teeth": 3}}, "wheel"),
        ({"signal": "crank-teeth", "wheel": {"teeth": 36, "missing": 30}}, "detail"),
        ({"signal": "crank-teeth", "wheel": {"pattern": "36-"}}, "detail"),
        ({"sync": {"channel": "coil", "cylinder": 1, "bit": 32}}, "sync"),
    ],
)
def test_what_cannot_be_is_refused(
    cast: Cast, api_for: ApiFor, world: World, change: dict[str, Any], name: str
):
    body = {key: value for key, value in {**RUN, **change}.items() if value is not ...}
    answer = posted(cast, api_for, world, body)
    assert answer.status_code == 400
    assert list(answer.json()) == [name]
