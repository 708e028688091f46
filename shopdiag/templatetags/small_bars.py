"""Where everything stands in the small drawing of cylinder bars, one per cylinder and no axis."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from shopdiag.templatetags.bars import call_word_of
from traces.core.findings import place_letter

STEP = 30
BAR_WIDTH = 20
BASE_Y = 62
PLOT_HEIGHT = 56
NAME_Y = 80
LEAST_WIDTH = 90
"""Room for the words below that numbers are open."""
HEIGHT = 84
OPEN_LINE = 18
"""Room for the line that says so, below the places' letters."""
_LEAST_TOP = 1.1
_HATCHES = {"suspect": "close", "watch": "wide"}


@dataclass(frozen=True, slots=True)
class SmallBar:
    """One cylinder, in drawing units; `percent` is its compression of a good cylinder's."""

    x: float
    middle: float
    top: float
    height: float
    name: str
    percent: int
    call: str
    hatch: str


@dataclass(frozen=True, slots=True)
class SmallDrawing:
    """All of the picture; `good_y` is where a good cylinder reaches."""

    width: int
    height: int
    base_y: int
    name_y: int
    open_y: int
    good_y: float
    bar_width: int
    bars: tuple[SmallBar, ...]
    known: bool


def _of(item: object, name: str) -> Any:  # noqa: ANN401 - JSON value or attribute
    return item.get(name) if isinstance(item, Mapping) else getattr(item, name, None)


def draw_small(estimates: Iterable[object]) -> SmallDrawing:
    """Place bars in the order given, which is the firing order.

    Parameters
    ----------
    estimates
        Objects or mappings with `relative`, `low`, `call`, and `cylinder` or, where numbers are not
        known, `position` or `place`.
    """
    rows = list(estimates)
    known = all(_of(row, "cylinder") is not None for row in rows)
    most = max([_LEAST_TOP, *(float(_of(row, "relative")) for row in rows)])
    bars = []
    for i, row in enumerate(rows):
        relative = max(0.0, float(_of(row, "relative")))
        height = round(PLOT_HEIGHT * relative / most, 1)
        place = _of(row, "position") or _of(row, "place")
        bars.append(
            SmallBar(
                x=STEP * i + (STEP - BAR_WIDTH) / 2,
                middle=STEP * (i + 0.5),
                top=round(BASE_Y - height, 1),
                height=height,
                name=str(_of(row, "cylinder")) if known else place_letter(int(place)),
                percent=round(100 * relative),
                call=call_word_of(rows, i),
                hatch=_HATCHES.get(str(_of(row, "call")), ""),
            )
        )
    return SmallDrawing(
        width=max(STEP * len(rows), LEAST_WIDTH),
        height=HEIGHT if known else HEIGHT + OPEN_LINE,
        base_y=BASE_Y,
        name_y=NAME_Y,
        open_y=NAME_Y + OPEN_LINE,
        good_y=round(BASE_Y - PLOT_HEIGHT / most, 1),
        bar_width=BAR_WIDTH,
        bars=tuple(bars),
        known=known,
    )
