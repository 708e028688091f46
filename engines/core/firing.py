"""Firing order and crank angles of an engine: which cylinder fires when."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shopdiag.people.core.words import gettext as _

CYCLE_DEG = 720.0
"""A four-stroke engine fires every cylinder once in two crank turns."""

MOST_CYLINDERS = 16
_LEAST_SPACING_DEG = 10.0


class FiringOrderError(ValueError):
    """The firing order or its angles cannot be those of an engine; the text says why."""


class FiringAngleError(FiringOrderError):
    """The order stands, but its crank angles cannot be those of an engine."""


@dataclass(frozen=True, slots=True)
class FiringOrder:
    """The cylinders in the order they fire, and where each one fires in the cycle.

    Parameters
    ----------
    sequence
        Cylinder numbers as stamped on the engine (1-based), in firing sequence.
    tdc_angles_deg
        Firing top dead centre of each entry of `sequence`, in crank degrees from the
        first; starts at 0, rises, and stays under 720.

    Raises
    ------
    FiringOrderError
        If `sequence` is not a permutation of 1..n or the angles do not rise from 0
        inside one cycle.
    """

    sequence: tuple[int, ...]
    tdc_angles_deg: tuple[float, ...]

    def __post_init__(self) -> None:
        _check_sequence(self.sequence)
        _check_angles(self.tdc_angles_deg, len(self.sequence))

    @classmethod
    def even(cls, sequence: Sequence[int]) -> "FiringOrder":
        """Return the order with firings spaced evenly over 720 degrees."""
        _check_sequence(sequence)
        spacing_deg = CYCLE_DEG / len(sequence)
        return cls(tuple(sequence), tuple(i * spacing_deg for i in range(len(sequence))))

    @classmethod
    def parse(cls, text: str, tdc_angles: str | Sequence[float] | None = None) -> "FiringOrder":
        """Read '1-3-4-2' and, for uneven firing, '0,150,240,390,480,630'.

        Commas, blanks and dashes all separate cylinder numbers.
        """
        parts = [part for part in re.split(r"[\s,;–—‑-]+", text.strip()) if part]
        if not parts:
            raise FiringOrderError(_("The firing order is empty; give it like 1-3-4-2."))
        try:
            sequence = tuple(int(part) for part in parts)
        except ValueError:
            raise FiringOrderError(
                _("“{text}” is not a firing order; give cylinder numbers like 1-3-4-2.").format(
                    text=text.strip()[:60]
                )
            ) from None
        if tdc_angles is None or len(tdc_angles) == 0:
            return cls.even(sequence)
        _check_sequence(sequence)
        return cls(sequence, _read_angles(tdc_angles))

    def __len__(self) -> int:
        return len(self.sequence)

    def __iter__(self) -> Iterator[tuple[int, float]]:
        return iter(zip(self.sequence, self.tdc_angles_deg, strict=True))

    def __str__(self) -> str:
        return "-".join(str(cylinder) for cylinder in self.sequence)

    @property
    def is_even(self) -> bool:
        """Whether all firings are the same crank angle apart."""
        spacing_deg = CYCLE_DEG / len(self.sequence)
        return all(
            abs(angle - i * spacing_deg) < 0.5 for i, angle in enumerate(self.tdc_angles_deg)
        )

    @property
    def intervals_deg(self) -> tuple[float, ...]:
        """Crank angle from each firing to the next one, wrapping at the cycle's end."""
        following = (*self.tdc_angles_deg[1:], CYCLE_DEG)
        return tuple(b - a for a, b in zip(self.tdc_angles_deg, following, strict=True))

    def angle_of(self, cylinder: int) -> float:
        """Return the firing top dead centre of `cylinder` in degrees from the first firing."""
        return self.tdc_angles_deg[self.position_of(cylinder)]

    def position_of(self, cylinder: int) -> int:
        """Return the 0-based place of `cylinder` in the firing sequence."""
        try:
            return self.sequence.index(cylinder)
        except ValueError:
            raise FiringOrderError(
                _("Cylinder {cylinder} is not in the firing order {self}.").format(
                    cylinder=cylinder, self=self
                )
            ) from None

    def starting_at(self, cylinder: int) -> "FiringOrder":
        """Return the same engine with the cycle counted from `cylinder`."""
        at = self.position_of(cylinder)
        base = self.tdc_angles_deg[at]
        sequence = self.sequence[at:] + self.sequence[:at]
        angles = self.tdc_angles_deg[at:] + self.tdc_angles_deg[:at]
        return FiringOrder(sequence, tuple((a - base) % CYCLE_DEG for a in angles))

    def companion_of(self, cylinder: int, tolerance_deg: float = 1.0) -> int | None:
        """Return the cylinder that fires one crank turn (360 degrees) later, if there is one."""
        wanted = (self.angle_of(cylinder) + CYCLE_DEG / 2) % CYCLE_DEG
        for other, angle in self:
            apart = abs(angle - wanted)
            if min(apart, CYCLE_DEG - apart) <= tolerance_deg:
                return other
        return None

    @property
    def companions(self) -> tuple[tuple[int, int], ...]:
        """Pairs of cylinders that reach top dead centre together, 360 degrees apart.

        One fires while the other ends its exhaust stroke, so an event that comes every
        turn cannot tell the two of a pair apart. In firing sequence; empty where the
        engine has no such pairs.
        """
        pairs: list[tuple[int, int]] = []
        for cylinder in self.sequence:
            other = self.companion_of(cylinder)
            if other is not None and (other, cylinder) not in pairs:
                pairs.append((cylinder, other))
        return tuple(pairs)


def _read_angles(tdc_angles: str | Sequence[float]) -> tuple[float, ...]:
    parts: Sequence[str | float] = tdc_angles
    if isinstance(tdc_angles, str):
        parts = [part for part in re.split(r"[\s,;]+", tdc_angles.strip()) if part]
    try:
        return tuple(float(part) for part in parts)
    except (TypeError, ValueError):
        shown = tdc_angles if isinstance(tdc_angles, str) else ", ".join(map(str, tdc_angles))
        raise FiringAngleError(
            _("“{text}” are not angles; give degrees like 0,150,240.").format(
                text=shown.strip()[:60]
            )
        ) from None


def _check_sequence(sequence: Sequence[int]) -> None:
    count = len(sequence)
    if not 1 <= count <= MOST_CYLINDERS:
        raise FiringOrderError(
            _("A firing order has 1 to {most_cylinders} cylinders, not {count}.").format(
                most_cylinders=MOST_CYLINDERS, count=count
            )
        )
    missing = sorted(set(range(1, count + 1)) - set(sequence))
    twice = sorted({c for c in sequence if sequence.count(c) > 1})
    outside = sorted({c for c in sequence if not 1 <= c <= count})
    if twice:
        raise FiringOrderError(
            _("Cylinder {twice} stands twice in the firing order.").format(twice=twice[0])
        )
    if outside or missing:
        raise FiringOrderError(
            _(
                "Cylinder {missing} is missing from the firing order: with {count} "
                "cylinders it needs each number from 1 to {count} once."
            ).format(missing=missing[0], count=count)
        )


def _check_angles(angles_deg: Sequence[float], count: int) -> None:
    if len(angles_deg) != count:
        raise FiringAngleError(
            _("There are {angles} angles for {count} cylinders; give one for each.").format(
                angles=len(angles_deg), count=count
            )
        )
    if angles_deg[0] != 0:
        raise FiringAngleError(_("The first angle must be 0: angles count from the first firing."))
    ends = (*angles_deg[1:], CYCLE_DEG)
    for angle, following in zip(angles_deg, ends, strict=True):
        # NaN fails this comparison too
        if not following - angle >= _LEAST_SPACING_DEG:
            raise FiringAngleError(
                _(
                    "Angles must rise by at least 10 degrees from one firing to the next and "
                    "fit in 720 degrees."
                )
            )
