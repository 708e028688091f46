"""Plan-view drawing of an engine: numbered cylinders, front marked, suspect ones hatched.

Shapes only, in drawing units; a template turns them into inline SVG with presentation
attributes. The hatch is drawn as lines rather than as a pattern, so that it prints, needs no
ids, and leaves the number free.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from engines.core.firing import FiringOrderError
from engines.core.geometry import EngineGeometry
from engines.core.mounting import Arrow, Mounting
from engines.core.positions import (
    bank_numbers,
    cylinders_by_bank,
    front_first,
    place_words,
    view_from,
)
from shopdiag.people.core.words import gettext as _

_RADIUS = 26.0
_NUMBER_RADIUS = 14.0
_PITCH = 72.0
_ROW_PITCH = 104.0
_LEAST_ASIDE = 74.0
_ASIDE_GAP = 8.0
_REAR_GAP = 18.0
_MARK_SIZE = 13.0
_LEAST_MARK_SIZE = 9.0
_SMALL_SIZE = 12.0
_WIDTH_OF_SIZE = 0.62
"""Of a letter in a bold face without serifs: the widest of the words drawn, on average."""
_TOP = 20.0
_BOTTOM = 34.0
_HATCH_STEP = 6.0
_TRAVEL_HEIGHT = 34.0
_TRAVEL_LENGTH = 26.0
_ARROW_HEAD = 6.0


@dataclass(frozen=True, slots=True)
class Segment:
    """A straight line from (x1, y1) to (x2, y2)."""

    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle with its top left corner at (x, y)."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class DrawnWord:
    """A word at (x, y); `anchor` is SVG's text-anchor."""

    x: float
    y: float
    text: str
    anchor: str = "middle"
    size: float = 14.0


@dataclass(frozen=True, slots=True)
class PlanCylinder:
    """One cylinder: its circle, its number, and how it is marked."""

    number: int
    x: float
    y: float
    radius: float
    words: str
    mark: str
    mark_label: DrawnWord | None
    hatch: tuple[Segment, ...]

    @property
    def number_y(self) -> float:
        """Baseline of the number, so that it sits in the middle of the circle."""
        return self.y + 6.0


@dataclass(frozen=True, slots=True)
class PlanDrawing:
    """The whole drawing; front on the left, seen from above.

    Bank A is the upper row, unless the mounting in the vehicle puts it below. `travel` is the
    arrow in the direction of travel, empty where the mounting is not known.
    """

    width: float
    height: float
    title: str
    description: str
    view_from: str
    block: Box
    flywheel: Box
    front: DrawnWord
    rear: DrawnWord
    arrow: tuple[Segment, ...]
    bank_labels: tuple[DrawnWord, ...]
    code_labels: tuple[DrawnWord, ...]
    """What fault codes call the banks; empty where there are not two."""
    cylinders: tuple[PlanCylinder, ...]
    travel: tuple[Segment, ...] = ()
    travel_label: DrawnWord | None = None


def plan_drawing(
    geometry: EngineGeometry,
    marked: Mapping[int, str] | None = None,
    mounting: Mounting | None = None,
) -> PlanDrawing:
    """Draw `geometry` from above, with the cylinders of `marked` hatched and named by a word.

    Parameters
    ----------
    geometry
        The engine.
    marked
        The word of each cylinder that stands out, such as ``{3: "suspect"}``.
    mounting
        How the engine sits in the vehicle; None where nobody said it.

    Raises
    ------
    FiringOrderError
        If `marked` names a cylinder the engine does not have.
    """
    words = dict(marked or {})
    unknown = sorted(set(words) - set(geometry.places))
    if unknown:
        raise FiringOrderError(
            _("The engine has no cylinder {unknown} to mark.").format(unknown=unknown[0])
        )
    banks = front_first(geometry.places)
    longest = max(len(numbers) for numbers in banks.values())
    of_codes = bank_numbers(cylinders_by_bank(geometry.places))
    names = {bank: _("bank {bank}").format(bank=bank) for bank in banks if bank}
    codes = {n: _("(bank {of_codes})").format(of_codes=of_codes[n]) for n in of_codes}
    rear = _("flywheel")
    left = _aside(
        *((name, 14.0) for name in names.values()), *((c, _SMALL_SIZE) for c in codes.values())
    )
    block = Box(
        left,
        _TOP,
        longest * _PITCH,
        (len(banks) - 1) * _ROW_PITCH + 2 * _RADIUS + _BOTTOM,
    )
    cylinders = []
    bank_labels, code_labels = [], []
    rows = list(banks.items())
    if mounting is not None and mounting.bank_b_above:
        rows.reverse()
    for row, (bank, numbers) in enumerate(rows):
        y = _row_y(row)
        if bank:
            bank_labels.append(DrawnWord(left - _ASIDE_GAP, y + 5.0, names[bank], "end"))
        if numbers[0] in codes:
            code_labels.append(
                DrawnWord(left - _ASIDE_GAP, y + 19.0, codes[numbers[0]], "end", _SMALL_SIZE)
            )
        for place, number in enumerate(numbers):
            x = left + (place + 0.5) * _PITCH
            at = place_words(geometry.places, number)
            cylinders.append(_cylinder(number, x, y, at, words.get(number, "")))
    middle = block.y + block.height / 2
    right = block.x + block.width
    # Between the first two rows, where no bank's name stands.
    front_y = _row_y(0) + _ROW_PITCH / 2 if len(banks) > 1 else _row_y(0)
    bottom = block.y + block.height + _TOP
    return PlanDrawing(
        width=right + max(_LEAST_ASIDE, _REAR_GAP + _width(rear, _SMALL_SIZE)),
        height=bottom + (_TRAVEL_HEIGHT if mounting else 0.0),
        title=_("{name}, seen from above").format(name=geometry.name),
        description=_description(geometry, words),
        view_from=view_from(has_banks=len(banks) > 1),
        block=block,
        flywheel=Box(right, middle - block.height * 0.3, 12.0, block.height * 0.6),
        front=DrawnWord(8.0, front_y - 8.0, _("front"), "start"),
        rear=DrawnWord(right + _REAR_GAP, middle + 4.0, rear, "start", _SMALL_SIZE),
        arrow=(
            Segment(8.0, front_y + 4.0, 42.0, front_y + 4.0),
            Segment(8.0, front_y + 4.0, 16.0, front_y - 1.0),
            Segment(8.0, front_y + 4.0, 16.0, front_y + 9.0),
        ),
        bank_labels=tuple(bank_labels),
        code_labels=tuple(code_labels),
        cylinders=tuple(cylinders),
        travel=_travel(left, bottom, mounting.travel) if mounting else (),
        travel_label=DrawnWord(left + 22.0, bottom + 12.0, _("direction of travel"), "start")
        if mounting
        else None,
    )


def _travel(left: float, top: float, arrow: Arrow) -> tuple[Segment, ...]:
    """Return the arrow in the direction of travel, left of its label: shaft and head."""
    x, y, half = left, top + 8.0, _TRAVEL_LENGTH / 2
    step_x, step_y = {"left": (-1.0, 0.0), "up": (0.0, -1.0), "down": (0.0, 1.0)}[arrow]
    tip_x, tip_y = x + half * step_x, y + half * step_y
    back_x, back_y = tip_x - _ARROW_HEAD * step_x, tip_y - _ARROW_HEAD * step_y
    aside_x, aside_y = _ARROW_HEAD * step_y, _ARROW_HEAD * step_x
    return (
        Segment(x - half * step_x, y - half * step_y, tip_x, tip_y),
        Segment(tip_x, tip_y, back_x - aside_x, back_y - aside_y),
        Segment(tip_x, tip_y, back_x + aside_x, back_y + aside_y),
    )


def _row_y(row: int) -> float:
    return _TOP + 8.0 + _RADIUS + row * _ROW_PITCH


def _cylinder(number: int, x: float, y: float, at: str, mark: str) -> PlanCylinder:
    return PlanCylinder(
        number=number,
        x=x,
        y=y,
        radius=_RADIUS,
        words=at,
        mark=mark,
        mark_label=_mark_label(x, y + _RADIUS + 15.0, mark) if mark else None,
        hatch=_ring_hatch(x, y) if mark else (),
    )


def _width(text: str, size: float) -> float:
    return _WIDTH_OF_SIZE * size * len(text)


def _aside(*words: tuple[str, float]) -> float:
    """Return the room that words of some sizes need left of the block."""
    return max(_LEAST_ASIDE, *(2 * _ASIDE_GAP + _width(text, size) for text, size in words), 0.0)


def _mark_label(x: float, y: float, mark: str) -> DrawnWord:
    """Return a cylinder's word as large as it fits between its neighbours'."""
    room = _PITCH - 2.0
    size = min(_MARK_SIZE, max(_LEAST_MARK_SIZE, room / _width(mark, 1.0)))
    most = int(room / _width("m", size))
    shown = mark if len(mark) <= most else f"{mark[: most - 1]}…"
    return DrawnWord(x, y, shown, size=size)


def _ring_hatch(x: float, y: float) -> tuple[Segment, ...]:
    """Return slanting lines inside the circle that leave the number's disc free."""
    lines = []
    steps = int(_RADIUS // _HATCH_STEP)
    for step in range(-steps, steps + 1):
        away = step * _HATCH_STEP  # of the line from the centre
        outer = math.sqrt(_RADIUS**2 - away**2)
        if abs(away) < _NUMBER_RADIUS:
            inner = math.sqrt(_NUMBER_RADIUS**2 - away**2)
            spans = [(-outer, -inner), (inner, outer)]
        else:
            spans = [(-outer, outer)]
        lines += [_slanting(x, y, away, start, end) for start, end in spans]
    return tuple(lines)


def _slanting(x: float, y: float, away: float, start: float, end: float) -> Segment:
    """Return the part from `start` to `end` of the rising 45 degree line `away` from (x, y)."""
    half = math.sqrt(0.5)
    foot_x, foot_y = x + away * half, y + away * half
    return Segment(
        *(
            round(value, 2)
            for value in (
                foot_x + start * half,
                foot_y - start * half,
                foot_x + end * half,
                foot_y - end * half,
            )
        )
    )


def _description(geometry: EngineGeometry, marked: Mapping[int, str]) -> str:
    rows = "; ".join(
        _("bank {bank}: {cylinders}").format(bank=bank, cylinders=", ".join(map(str, numbers)))
        if bank
        else ", ".join(map(str, numbers))
        for bank, numbers in front_first(geometry.places).items()
    )
    sentences = [_("Cylinders from the front: {rows}.").format(rows=rows)]
    sentences += [
        _("Cylinder {cylinder} ({marked}): {place}.").format(
            cylinder=cylinder, marked=marked[cylinder], place=place_words(geometry.places, cylinder)
        )
        for cylinder in sorted(marked)
    ]
    return " ".join(sentences)
