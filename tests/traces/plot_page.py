"""A curve on a capture's page as tests look at it in a browser."""

import re

from playwright.sync_api import Locator, Page, expect

RATE_HZ = 2000.0
SECONDS = 6.0
END_S = SECONDS - 1 / RATE_HZ
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True}
DESK = {"viewport": {"width": 1280, "height": 800}}
PLOT = "#recorded-plot"


def view(page: Page) -> tuple[float, float]:
    """Return the stretch on the screen once nothing moves and its detail is there."""
    page.evaluate("window.lastRange = null")
    page.wait_for_function(
        f"""() => {{ const e = document.querySelector("{PLOT}"), at = performance.now();
          const now = e._fullLayout.xaxis.range.join(), x = e.data[0].x;
          if (now !== window.lastRange) {{ window.lastRange = now; window.lastMoved = at; }}
          const [from, to] = e._fullLayout.xaxis.range;
          const step = Math.max((to - from) / 100, 1 / {RATE_HZ});
          return at - window.lastMoved > 400 && x[0] <= from + step && x[x.length - 1] >= to - step
            && x[x.length - 1] - x[0] < 1.1 * (to - from) + 4 / {RATE_HZ}; }}"""
    )
    low, high = page.evaluate(f"document.querySelector('{PLOT}')._fullLayout.xaxis.range")
    return low, high


def area(page: Page) -> dict[str, float]:
    """Return where the axis lies on the screen."""
    found: dict[str, float] = page.evaluate(
        f"""() => {{ const e = document.querySelector("{PLOT}"), box = e.getBoundingClientRect();
          const a = e._fullLayout.xaxis;
          return {{left: box.left + a._offset, width: a._length, top: box.top,
                  middle: box.top + box.height / 2, height: box.height}}; }}"""
    )
    return found


def at(page: Page, share: float) -> tuple[float, float]:
    """Return the point of the screen at a share of the time axis."""
    place = area(page)
    return place["left"] + share * place["width"], place["middle"]


def tool(page: Page, name: str) -> Locator:
    return page.locator("#recorded").get_by_role("button", name=name, exact=True)


def scrolled(page: Page) -> float:
    found: float = page.evaluate("scrollY")
    return found


def time_of(page: Page, name: str) -> float:
    """Return a cursor's time as the page tells it."""
    row = page.locator("#recorded [data-plot-readout] dl > div").filter(
        has=page.locator("dt", has_text=re.compile(f"^{re.escape(name)}$"))
    )
    return float(row.locator("dd").inner_text().split()[0].replace("−", "-"))


def cells(page: Page, channel: str) -> list[float]:
    """Return what the page tells of a channel at and between the cursors."""
    row = page.locator("#recorded [data-plot-readout] tbody tr").filter(has_text=channel)
    expect(row.locator("td").first).to_have_text(re.compile(r"^[−\d]"))
    return [float(t.replace("−", "-")) for t in row.locator("td").all_inner_texts()]
