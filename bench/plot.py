"""A small scatter plot as SVG: truth across, figure up, one mark a cylinder."""

from collections.abc import Sequence
from pathlib import Path

_SIZE = 360
_LEFT, _TOP, _RIGHT, _BOTTOM = 46, 28, 12, 40
_MOST = 1.5
_LIMIT = 0.80


def scatter(path: Path, title: str, points: Sequence[tuple[float, float]]) -> None:
    """Write points (truth, figure) as an SVG file; figures beyond the frame lie on its edge."""
    marks = "".join(
        f'<circle cx="{_x(truth):.1f}" cy="{_y(figure):.1f}" r="1.8"/>' for truth, figure in points
    )
    ticks = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5)
    grid = "".join(
        f'<path d="M{_x(t):.1f} {_y(0):.1f}V{_y(_MOST):.1f}M{_x(0):.1f} {_y(t):.1f}'
        f'H{_x(_MOST):.1f}" stroke="#ddd" stroke-width="0.6"/>'
        f'<text x="{_x(t):.1f}" y="{_SIZE - _BOTTOM + 14}" text-anchor="middle">{t:g}</text>'
        f'<text x="{_LEFT - 5}" y="{_y(t) + 3:.1f}" text-anchor="end">{t:g}</text>'
        for t in ticks
    )
    limit = (
        f'<path d="M{_x(_LIMIT):.1f} {_y(0):.1f}V{_y(_MOST):.1f}M{_x(0):.1f} {_y(_LIMIT):.1f}'
        f'H{_x(_MOST):.1f}" stroke="#999" stroke-dasharray="4 3" fill="none"/>'
    )
    even = f'<path d="M{_x(0)} {_y(0)}L{_x(_MOST)} {_y(_MOST)}" stroke="#555" fill="none"/>'
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_SIZE} {_SIZE}" '
        f'width="{_SIZE}" height="{_SIZE}" font-family="sans-serif" font-size="10">'
        f'<rect width="{_SIZE}" height="{_SIZE}" fill="#fff"/>{grid}{limit}{even}'
        f'<g fill="#1a1a1a" fill-opacity="0.45">{marks}</g>'
        f'<text x="{_LEFT}" y="17" font-size="12">{title}</text>'
        f'<text x="{(_LEFT + _SIZE - _RIGHT) / 2}" y="{_SIZE - 8}" text-anchor="middle">'
        f"true relative compression</text>"
        f'<text transform="translate(12 {(_TOP + _SIZE - _BOTTOM) / 2}) rotate(-90)" '
        f'text-anchor="middle">figure in the report</text></svg>\n',
        encoding="utf-8",
    )


def _x(value: float) -> float:
    inside = min(max(value, 0.0), _MOST) / _MOST
    return _LEFT + inside * (_SIZE - _LEFT - _RIGHT)


def _y(value: float) -> float:
    inside = min(max(value, 0.0), _MOST) / _MOST
    return _SIZE - _BOTTOM - inside * (_SIZE - _TOP - _BOTTOM)
