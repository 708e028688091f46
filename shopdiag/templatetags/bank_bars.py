"""Where everything stands in the drawing of bank bars: one lying bar a bank."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from shopdiag.people.core.numerals import written

_WIDTH = 340.0
_LEFT = 36.0
_TOP = 10.0
_ROW = 40.0
_PLOT = 196.0
_BAR = 22.0
_LEAST_TOP = 1.1


class BankFigures(Protocol):
    """What is drawn of a bank; a `call` hatches its bar."""

    @property
    def name(self) -> str:
        """Letter of the bank."""

    @property
    def mean(self) -> float:
        """Mean relative compression."""

    @property
    def low(self) -> float:
        """Lower end of its interval."""

    @property
    def high(self) -> float:
        """Upper end of its interval."""

    @property
    def call(self) -> str:
        """Word beside the bar, "" for none."""


@dataclass(frozen=True, slots=True)
class BankBar:
    """One bank's row with its interval, in drawing units."""

    name: str
    top: float
    width: float
    middle: float
    low_x: float
    high_x: float
    value: str
    call: str


@dataclass(frozen=True, slots=True)
class BankDrawing:
    """All of the picture; the template only writes it down."""

    width: float
    height: float
    left: float
    value_x: float
    call_x: float
    bar_height: float
    bars: tuple[BankBar, ...]


def draw_banks(banks: Iterable[BankFigures]) -> BankDrawing:
    """Place the banks top to bottom, in the order given."""
    rows = list(banks)
    most = max([_LEAST_TOP, *(row.high for row in rows)])

    def x(value: float) -> float:
        return round(_LEFT + _PLOT * max(0.0, value) / most, 1)

    return BankDrawing(
        width=_WIDTH,
        height=2 * _TOP + _ROW * len(rows),
        left=_LEFT,
        value_x=_LEFT + _PLOT + 44.0,
        call_x=_LEFT + _PLOT + 52.0,
        bar_height=_BAR,
        bars=tuple(
            BankBar(
                name=row.name,
                top=_TOP + _ROW * (i + 0.5) - _BAR / 2,
                width=round(x(row.mean) - _LEFT, 1),
                middle=_TOP + _ROW * (i + 0.5),
                low_x=x(row.low),
                high_x=x(row.high),
                value=written(f"{row.mean:.2f}"),
                call=row.call,
            )
            for i, row in enumerate(rows)
        ),
    )
