"""Taking pictures along in a browser: real files, black on white from either theme."""

import io
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from tests.conftest import Cast
from tests.unfolding import unfold
from traces.core.readers import read
from traces.models import Capture, Run
from traces.runs.reading import reading_read

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

_SVG = "{http://www.w3.org/2000/svg}"


SignIn = Callable[..., tuple[Page, list[str]]]


def _taken(page: Page, role: str, name: str) -> tuple[str, bytes]:
    """Press what is called so; return the file's name and content."""
    with page.expect_download() as coming:
        page.get_by_role(role, name=name, exact=True).click()  # type: ignore[arg-type]
    return coming.value.suggested_filename, Path(coming.value.path()).read_bytes()


def _on_white(content: bytes) -> tuple[int, int]:
    """Hold a picture against paper: white at the edges, black ink on it; return its size."""
    with Image.open(io.BytesIO(content)) as image:
        assert image.format == "PNG"
        pixels = np.asarray(image.convert("RGB"))
        size = image.size
    for corner in (pixels[0, 0], pixels[0, -1], pixels[-1, 0], pixels[-1, -1]):
        assert tuple(corner) == (255, 255, 255)
    white = (pixels == 255).all(axis=2).mean()
    dark = (pixels.max(axis=2) < 80).mean()
    assert white > 0.6
    assert dark > 0.003
    return size


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pictures_are_real_and_print_on_white(
    run: Run, cast: Cast, signed_in_page: SignIn, scheme: str
) -> None:
    page, complaints = signed_in_page(cast.writer, color_scheme=scheme)
    page.goto(f"/captures/{run.capture_id}/")
    expect(page.locator("#curve-plot .textpoint").first).to_be_visible()
    unfold(page, "Export")

    name, content = _taken(page, "button", "Evidence, PNG")
    assert name == f"ref-01-{run.capture_id}-run{run.pk}-evidence.png"
    drawn = page.locator("svg#evidence").evaluate(
        "e => [e.width, e.height].map(v => v.baseVal.value)"
    )
    assert _on_white(content) == (2 * drawn[0], 2 * drawn[1])

    name, content = _taken(page, "link", "Evidence, SVG")
    assert name.endswith("-evidence.svg")
    root = ET.fromstring(content)  # noqa: S314 - our own drawing
    assert root.tag == f"{_SVG}svg"

    name, content = _taken(page, "button", "Curve as shown, PNG")
    assert name.endswith("-curve.png")
    assert _on_white(content) == (2800, 1400)
    whole = content

    name, content = _taken(page, "button", "Curve as shown, SVG")
    assert name.endswith("-curve.svg")
    root = ET.fromstring(content)  # noqa: S314 - our own drawing
    assert root.tag == f"{_SVG}svg"
    words = {t.text for t in root.iter(f"{_SVG}text")}
    assert {"1", "seconds"} <= words
    assert b"rgb(244, 236, 218)" not in content  # the dark theme's ink

    # a closer look is another picture
    with page.expect_response(lambda r: "plot.json" in r.url and "from=" in r.url):
        page.locator("#curve-plot").press("+")
    page.wait_for_timeout(300)
    _, closer = _taken(page, "button", "Curve as shown, PNG")
    assert _on_white(closer) == (2800, 1400)
    assert closer != whole
    assert complaints == []


def test_data_and_case_are_taken_along_and_the_case_opens_elsewhere(
    run: Run, cast: Cast, signed_in_page: SignIn, add: Callable[..., Capture], tmp_path: Path
) -> None:
    page, complaints = signed_in_page(cast.diagnostician)
    page.goto(f"/captures/{run.capture_id}/")
    unfold(page, "Export")
    card = page.locator("#export")
    card.get_by_label("From").fill("1")
    card.get_by_label("To", exact=False).first.fill("2")
    name, content = _taken(page, "button", "Data, CSV")
    assert name.endswith("-data.csv")
    path = tmp_path / "taken.csv"
    path.write_bytes(content)
    taken = read(path)
    assert taken.waveform.t0_s == pytest.approx(1.0, abs=0.001)
    assert taken.waveform.duration_s == pytest.approx(1.0, abs=0.002)

    name, content = _taken(page, "link", "Result, JSON")
    assert name.endswith("-result.json")
    name, content = _taken(page, "button", "Export case")
    assert name.startswith("case-")
    assert name.endswith(".case.zip")
    # once more: no button stays pressed
    assert _taken(page, "button", "Export case")[1] == content
    assert complaints == []

    capture = add(content, cast.outsider, name)
    reading_read(capture.reading.pk)
    there, complaints = signed_in_page(cast.outsider)
    there.goto(f"/captures/{capture.pk}/")
    expect(there.get_by_role("heading", name="The sender's result")).to_be_visible()
    expect(there.get_by_text("Uneven: cylinder 1 is low")).to_be_visible()
    there.get_by_role("button", name="Analyse as the sender did").click()
    expect(there.get_by_role("heading", name="The analysis")).to_be_visible()
    assert Run.objects.get(capture=capture).setup.engine == run.setup.engine
    assert complaints == []
