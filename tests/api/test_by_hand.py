"""What a person changed by hand, sent over the API."""

from typing import Any

import pytest

from tests.api.conftest import ApiFor, World
from tests.api.endpoints import RUN
from tests.api.kept_world import cast, four, kept, taken, visit, world
from tests.conftest import Cast

__all__ = ["cast", "four", "kept", "taken", "visit", "world"]


def posted(cast: Cast, api_for: ApiFor, world: World, hand: Any):
    body = {**RUN, "hand": hand}
    return api_for(cast.diagnostician).post(f"/api/captures/{world.capture.pk}/runs/", body)


def test_it_is_kept_in_the_set_up(cast: Cast, api_for: ApiFor, world: World):
    hand = {
        "shift": -1,
        "span_s": [0.5, 3.25],
        "left_out_s": [[1.0, 1.5], [2.0, 2.5]],
        "marks": {"times_s": [1.25], "cylinder": 3, "event": "tdc", "every_deg": 360},
    }
    answer = posted(cast, api_for, world, hand)
    assert answer.status_code == 202, answer.json()
    assert answer.json()["set_up"]["hand"] == hand


@pytest.mark.parametrize("hand", [None, {}], ids=["null", "empty"])
def test_nothing_changed_is_nothing(cast: Cast, api_for: ApiFor, world: World, hand):
    kept = posted(cast, api_for, world, hand).json()["set_up"]["hand"]
    assert kept == {"shift": 0, "span_s": None, "left_out_s": [], "marks": None}


@pytest.mark.parametrize(
    ("hand", "name"),
    [
        ({"shift": 17}, "hand"),
        ({"shift": "on"}, "hand"),
        ({"span_s": [1.0]}, "hand"),
        ({"left_out_s": [[1.0, 2.0, 3.0]]}, "hand"),
        ({"marks": {"times_s": [], "cylinder": 1}}, "hand"),
        ({"marks": {"times_s": [1.0]}}, "hand"),
        ({"marks": {"times_s": [1.0], "cylinder": 1, "event": "smoke"}}, "hand"),
        ({"smoke": 1}, "hand"),
        ({"span_s": [2.0, 1.0]}, "detail"),
        ({"left_out_s": [[1.0, 2.0], [1.5, 3.0]]}, "detail"),
        ({"marks": {"times_s": [1.0], "cylinder": 9}}, "detail"),
    ],
)
def test_what_cannot_be_is_refused(
    cast: Cast, api_for: ApiFor, world: World, hand: dict[str, Any], name: str
):
    answer = posted(cast, api_for, world, hand)
    assert answer.status_code == 400
    assert list(answer.json()) == [name]
