"""A plug that was out, over the API."""

from typing import Any

import pytest

from tests.api.conftest import ApiFor, World
from tests.api.endpoints import RUN
from tests.conftest import Cast


def posted(cast: Cast, api_for: ApiFor, world: World, opened: Any):
    address = f"/api/captures/{world.capture.pk}/runs/"
    return api_for(cast.diagnostician).post(address, {**RUN, "opened_plug": opened})


@pytest.mark.parametrize("opened", [2, None])
def test_it_is_taken_over(cast: Cast, api_for: ApiFor, world: World, opened: int | None):
    answer = posted(cast, api_for, world, opened)
    assert answer.status_code == 202, answer.json()
    assert answer.json()["set_up"]["opened_plug"] == opened


@pytest.mark.parametrize(("opened", "name"), [(0, "opened_plug"), (9, "detail")])
def test_a_cylinder_the_engine_lacks_is_refused(
    cast: Cast, api_for: ApiFor, world: World, opened: int, name: str
):
    answer = posted(cast, api_for, world, opened)
    assert answer.status_code == 400
    assert list(answer.json()) == [name]
