"""The set-up page proposes what the file's own samples show, and marks it as a proposal."""

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from uuid import uuid4

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Page, expect

from engines.models import Engine
from shopdiag.people.models import Member, User
from tests.conftest import Cast
from traces.models import Capture, Reading, Run
from traces.simulator.scenarios import draw
from traces.simulator.simulate import simulate

ClientFor = Callable[[Member], Client]

# Taps that reach over the edge of their card.
OUTSIDE = """() => [...document.querySelectorAll(".setup-form label")].filter((label) => {
  const card = label.closest(".card");
  return card && label.getBoundingClientRect().right > card.getBoundingClientRect().right;
}).map((label) => label.textContent)"""


@cache
def _crank() -> bytes:
    """Return a crank of an inline four as text: battery, sync and clamp, by numbers alone."""
    drawn = draw(9_200_010, layout="I4", sync="720", fault="one")
    simulated = simulate(replace(drawn, rate_hz=2000.0, record_battery=True))
    clamp, sync, battery = (c.values for c in simulated.waveform.channels)
    time_s = np.arange(clamp.size) / 2000.0
    rows = zip(time_s, battery, sync, clamp, strict=True)
    lines = ["Time (s),1,2,3", *(",".join(f"{x:.5g}" for x in row) for row in rows)]
    return "\n".join(lines).encode()


@pytest.fixture
def capture(add_read: Callable[..., Capture]) -> Capture:
    return add_read(_crank(), name="unnamed.csv")


def _page(client: Client, capture: Capture, engine: Engine | None = None) -> str:
    query = {"engine": engine.pk} if engine else {}
    return client.get(reverse("traces:setup", args=[capture.pk]), query).content.decode()


def _taps(text: str, name: str) -> list[str]:
    return re.findall(rf'<input [^>]*name="{name}"[^>]*>', text)


def _offered(text: str, name: str) -> list[str]:
    return [re.findall(r'value="([^"]*)"', tap)[0] for tap in _taps(text, name)]


def _checked(text: str, name: str) -> list[str]:
    return [re.findall(r'value="([^"]*)"', t)[0] for t in _taps(text, name) if " checked" in t]


def test_each_part_is_chosen_by_what_its_channel_shows(
    capture: Capture, engine: Engine, cast: Cast, client_for: ClientFor
) -> None:
    text = _page(client_for(cast.diagnostician), capture, engine)
    assert _checked(text, "current_channel") == ["3"]
    assert _checked(text, "sync_channel") == ["2"]
    assert _checked(text, "voltage_channel") == ["1"]
    assert _checked(text, "sync_every") == ["720"]
    assert text.count('class="proposed"') == 3
    # what no file tells is left to the person
    assert _checked(text, "scale") == _checked(text, "sync_cylinder") == []
    assert _offered(text, "sync_cylinder") == ["1", "2", "3", "4"]


def test_the_scale_that_fits_stands_first(
    capture: Capture, engine: Engine, cast: Cast, client_for: ClientFor
) -> None:
    text = _page(client_for(cast.diagnostician), capture, engine)
    scales = _offered(text, "scale")
    assert sorted(scales) == sorted(["1", "2", "10", "20", "50", "100", "other"])
    assert scales[-1] == "other"
    level = Reading.objects.get(capture=capture).roles["clamp"]["level"]
    assert 65 <= 1000 * level / float(scales[0]) <= 280


def test_another_engine_shows_its_cylinders_and_keeps_what_was_typed(
    capture: Capture, engine: Engine, cast: Cast, client_for: ClientFor
) -> None:
    three = Engine(
        shop=cast.shop, name="Three", layout="I3", firing_order="1-2-3", source="its plate"
    )
    three.save()
    client = client_for(cast.diagnostician)
    token = str(uuid4())
    answer = client.post(
        reverse("traces:setup", args=[capture.pk]),
        {"engine": three.pk, "battery_v": "12.3", "show": "engine", "form_token": token},
    )
    assert answer.status_code == 200
    text = answer.content.decode()
    assert _offered(text, "sync_cylinder") == ["1", "2", "3"]
    assert 'value="12.3"' in text
    assert token in text
    assert not Run.objects.exists()


def test_its_own_set_up_is_no_proposal(
    capture: Capture, engine: Engine, cast: Cast, client_for: ClientFor
) -> None:
    client = client_for(cast.diagnostician)
    client.post(
        reverse("traces:setup", args=[capture.pk]),
        {
            "engine": engine.pk,
            "scale": "10",
            "current_channel": "3",
            "invert": "auto",
            "sync_channel": "",
            "form_token": str(uuid4()),
        },
    )
    assert Run.objects.count() == 1
    text = _page(client, capture, engine)
    assert 'class="proposed"' not in text
    assert _checked(text, "sync_channel") == [""]


def test_a_file_read_before_channels_were_looked_at_proposes_nothing(
    capture: Capture, engine: Engine, cast: Cast, client_for: ClientFor
) -> None:
    Reading.objects.update(roles={})
    text = _page(client_for(cast.diagnostician), capture, engine)
    assert 'class="proposed"' not in text
    assert _checked(text, "current_channel") == []


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
class TestTaps:
    @pytest.fixture
    def opened(
        self, signed_in_page: Callable, cast: Cast, capture: Capture, engine: Engine
    ) -> Callable[..., Page]:
        def go(width: int) -> Page:
            page: Page
            page, _complaints = signed_in_page(
                cast.diagnostician, viewport={"width": width, "height": 900}
            )
            page.goto(f"/captures/{capture.pk}/set-up/?engine={engine.pk}")
            return page

        return go

    @pytest.mark.parametrize(("width", "most"), [(1280, 1800), (390, 3200)])
    def test_two_taps_and_analyse(
        self, opened: Callable[..., Page], width: int, most: int, capsys: pytest.CaptureFixture
    ) -> None:
        page = opened(width)
        for language in ("es", "en"):
            User.objects.update(language=language)
            page.reload()
            height = page.evaluate("document.documentElement.scrollHeight")
            with capsys.disabled():
                print(  # noqa: T201 - for whoever reads the run
                    f"\nset-up page at {width} px, {language}: {height} px high"
                )
            assert height <= most
            assert page.evaluate(OUTSIDE) == []
        page.get_by_label("10 mV/A").first.check()
        page.get_by_role("group", name="Of which cylinder").get_by_label("1", exact=True).check()
        page.get_by_role("button", name="Analyse").click()
        page.wait_for_url(lambda url: "set-up" not in url)
        setup = Run.objects.get().setup.analysis
        assert setup.sync
        told = (setup.current_channel, setup.sync.channel, setup.voltage_channel, setup.mv_per_a)
        assert told == ("3", "2", "1", 10.0)
        assert setup.sync.cylinder == 1

    def test_one_tap_swaps_two_parts(self, opened: Callable[..., Page]) -> None:
        page = opened(1280)
        page.locator('input[name="current_channel"][value="2"]').check()
        expect(page.locator('input[name="sync_channel"][value="3"]')).to_be_checked()
        expect(page.locator('input[name="voltage_channel"][value="1"]')).to_be_checked()
