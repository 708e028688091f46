"""Where everything stands in the drawing of cylinder bars."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from shopdiag.people.core.numerals import written
from traces.core.findings import place_letter
from traces.core.report import call_words, stands_high

BAR_WIDTH = 40
STEP = 76
LEFT = 44
RIGHT = 14
TOP = 30
PLOT_HEIGHT = 220
BOTTOM = 62
_LEAST_TOP = 1.1
_STANDING = 5
"""More cylinders lie: standing, their words would not fit a phone's width."""

_HATCHES = {"suspect": "close", "watch": "wide"}

ROW = 32
_LYING_WIDTH = 340
_LYING_LEFT = 36
_LYING_TOP = 26
_LYING_PLOT = 196
_LYING_BAR = 20
_LETTER = 7.8
"""Width of a bold letter of a call's word, in drawing units."""

_ROOM = 52
"""For that word beside a lying bar."""


def _interval(low: float, high: float) -> str:
    return _("%(low)s to %(high)s") % {
        "low": written(f"{low:.2f}"),
        "high": written(f"{high:.2f}"),
    }


def call_word_of(rows: Sequence[object], at: int) -> str:
    """Return how a cylinder is called; one that is high is not told as good."""
    call = str(_of(rows[at], "call"))
    before = str(_of(rows[at - 1], "call")) if len(rows) > 1 else ""
    relative, low = (float(_of(rows[at], name)) for name in ("relative", "low"))
    if call == "sound" and stands_high(relative, low, before):
        return _("high")
    return call_words(call)


@dataclass(frozen=True, slots=True)
class Bar:
    """One cylinder's column with its interval, in drawing units.

    `hump` is the plain hump height in words, empty where there is none, and stands beside the
    bar as a hollow mark.
    """

    x: float
    width: int
    middle: float
    top: float
    height: float
    low_y: float
    high_y: float
    whisker_left: float
    whisker_right: float
    value_y: float
    name: str
    value: str
    interval: str
    call: str
    hatch: str
    hump: str = ""
    hump_x: float = 0.0
    hump_y: float = 0.0


@dataclass(frozen=True, slots=True)
class Limit:
    """A horizontal line with its name at the left."""

    y: float
    text_y: float
    label: str
    dash: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """All of the picture; the template only writes it down."""

    width: float
    height: float
    left: float
    label_x: float
    right_x: float
    base_y: float
    call_y: float
    name_y: float
    note_y: float
    bars: tuple[Bar, ...]
    limits: tuple[Limit, ...]
    known: bool
    humps: bool


@dataclass(frozen=True, slots=True)
class LyingBar:
    """One cylinder's row with its interval, in drawing units; `hump` as in `Bar`."""

    top: float
    height: int
    width: float
    low_x: float
    high_x: float
    middle: float
    cap_top: float
    cap_bottom: float
    text_y: float
    name: str
    value: str
    interval: str
    call: str
    hatch: str
    hump: str = ""
    hump_x: float = 0.0
    hump_y: float = 0.0


@dataclass(frozen=True, slots=True)
class LyingLimit:
    """An upright line with its name above."""

    x: float
    text_x: float
    label: str
    dash: str
    anchor: str


@dataclass(frozen=True, slots=True)
class LyingDrawing:
    """Rows from top to bottom, for engines with too many cylinders to stand on a phone."""

    width: float
    height: float
    left: float
    top: float
    base_y: float
    name_x: float
    value_x: float
    call_x: float
    note_y: float
    bars: tuple[LyingBar, ...]
    limits: tuple[LyingLimit, ...]
    known: bool
    humps: bool


def _of(item: object, name: str) -> Any:  # noqa: ANN401 - JSON value or attribute
    if isinstance(item, Mapping):
        return item.get(name)
    return getattr(item, name, None)


def _name(row: object, *, known: bool) -> str:
    """Return the cylinder's number, or the letter of its place where numbers are not known."""
    return str(_of(row, "cylinder")) if known else place_letter(int(_of(row, "position")))


def _hump(row: object) -> float | None:
    """Return the plain hump height of a cylinder; None where it was not measured."""
    given = _of(row, "hump_relative")
    return None if given is None else float(given)


def _most(rows: Iterable[object]) -> float:
    """Return the largest figure drawn."""
    return max([_LEAST_TOP, *(max(float(_of(r, "high")), _hump(r) or 0.0) for r in rows)])


def lies(estimates: Sequence[object]) -> bool:
    """Return whether so many bars are drawn lying."""
    return len(estimates) > _STANDING


def _longest(calls: Sequence[str]) -> float:
    """Return how wide the longest word is."""
    return _LETTER * max((len(call) for call in calls), default=0)


def draw_lying(
    estimates: Iterable[object],
    *,
    suspect_below: float,
    watch_below: float,
) -> LyingDrawing:
    """Place rows in the order given, top to bottom; parameters as in `draw`."""
    rows = list(estimates)
    most = _most(rows)
    known = all(_of(r, "cylinder") is not None for r in rows)

    calls = [call_word_of(rows, i) for i in range(len(rows))]
    plot = _LYING_PLOT - max(0.0, _longest(calls) - _ROOM)

    def x(value: float) -> float:
        return round(_LYING_LEFT + plot * max(0.0, value) / most, 1)

    bars = []
    for i, row in enumerate(rows):
        middle = _LYING_TOP + ROW * (i + 0.5)
        relative, low, high = (float(_of(row, n)) for n in ("relative", "low", "high"))
        hump = _hump(row)
        bars.append(
            LyingBar(
                top=middle - _LYING_BAR / 2,
                height=_LYING_BAR,
                width=round(x(relative) - _LYING_LEFT, 1),
                low_x=x(low),
                high_x=x(high),
                middle=middle,
                cap_top=middle - 6,
                cap_bottom=middle + 6,
                text_y=middle + 5,
                name=_name(row, known=known),
                value=written(f"{relative:.2f}"),
                interval=_interval(low, high),
                call=calls[i],
                hatch=_HATCHES.get(str(_of(row, "call")), ""),
                hump="" if hump is None else written(f"{hump:.2f}"),
                hump_x=x(hump or 0.0),
                hump_y=middle + _LYING_BAR / 2 + 5,
            )
        )
    # the labels stand close: the outer ones lean away from the middle one
    limits = tuple(
        LyingLimit(
            x=x(value), text_x=x(value) + lean, label=written(f"{value:.2f}"), dash=dash, anchor=to
        )
        for value, dash, to, lean in (
            (1.0, "", "start", -2),
            (watch_below, "2 4", "middle", 0),
            (suspect_below, "7 4", "end", -4),
        )
    )
    base_y = _LYING_TOP + ROW * len(rows)
    plot_right = _LYING_LEFT + plot
    return LyingDrawing(
        width=_LYING_WIDTH,
        height=base_y + 24,
        left=_LYING_LEFT,
        top=_LYING_TOP,
        base_y=base_y,
        name_x=_LYING_LEFT - 10,
        value_x=plot_right + 40,
        call_x=plot_right + 48,
        note_y=base_y + 18,
        bars=tuple(bars),
        limits=limits,
        known=known,
        humps=any(bar.hump for bar in bars),
    )


def draw(
    estimates: Iterable[object],
    *,
    suspect_below: float,
    watch_below: float,
) -> Drawing:
    """Place bars in the order given, which is the firing order.

    Parameters
    ----------
    estimates
        Objects or mappings with `relative`, `low`, `high`, `call`, and `cylinder` (number as
        stamped) or, where numbers are not known, `position`; with `hump_relative`, what plain
        hump height says stands beside the bar.
    suspect_below, watch_below
        The limits drawn as lines (1.00 = like the sound cylinders).
    """
    rows = list(estimates)
    most = _most(rows)
    known = all(_of(r, "cylinder") is not None for r in rows)

    calls = [call_word_of(rows, i) for i in range(len(rows))]
    step = max(STEP, round(_longest(calls)) + 4)

    def y(value: float) -> float:
        return round(TOP + PLOT_HEIGHT * (1 - max(0.0, value) / most), 1)

    bars = []
    for i, row in enumerate(rows):
        middle = LEFT + step * (i + 0.5)
        relative, low, high = (float(_of(row, n)) for n in ("relative", "low", "high"))
        hump = _hump(row)
        bars.append(
            Bar(
                x=middle - BAR_WIDTH / 2,
                width=BAR_WIDTH,
                middle=middle,
                top=y(relative),
                height=round(y(0) - y(relative), 1),
                low_y=y(low),
                high_y=y(high),
                whisker_left=middle - 7,
                whisker_right=middle + 7,
                value_y=round(y(max(high, relative)) - 6, 1),
                name=_name(row, known=known),
                value=written(f"{relative:.2f}"),
                interval=_interval(low, high),
                call=calls[i],
                hatch=_HATCHES.get(str(_of(row, "call")), ""),
                hump="" if hump is None else written(f"{hump:.2f}"),
                hump_x=middle + BAR_WIDTH / 2 + 9,
                hump_y=y(hump or 0.0),
            )
        )
    limits = tuple(
        Limit(y=y(value), text_y=y(value) + 4, label=written(f"{value:.2f}"), dash=dash)
        for value, dash in ((1.0, ""), (watch_below, "2 4"), (suspect_below, "7 4"))
    )
    base_y = y(0)
    width = LEFT + step * len(rows) + RIGHT
    return Drawing(
        width=width,
        height=TOP + PLOT_HEIGHT + BOTTOM,
        left=LEFT,
        label_x=LEFT - 6,
        right_x=width - RIGHT,
        base_y=base_y,
        name_y=base_y + 22,
        call_y=base_y + 40,
        note_y=base_y + 57,
        bars=tuple(bars),
        limits=limits,
        known=known,
        humps=any(bar.hump for bar in bars),
    )
