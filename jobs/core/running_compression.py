"""Running compression: what a cylinder builds at idle and on a snap of the throttle."""

from jobs.core.pressure import percent, shown
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

IDLE_SHARE = 0.5
SNAP_SHARE = 0.8
SOURCE = gettext_noop(
    "common practice: typical, not a limit; a good cylinder of this engine tells more"
)
"""Shares of the cranking reading that sound cylinders show."""


def running_words(
    idle_kpa: float | None, snap_kpa: float | None, dry_kpa: float | None, unit: str
) -> str:
    """Return the figures beside what is typical, pressures in `unit`.

    Parameters
    ----------
    idle_kpa, snap_kpa
        Gauge pressures at idle and on a snap; None where they were not taken.
    dry_kpa
        The same cylinder's dry cranking reading; None where there is none.
    """
    parts = []
    for name, value, usual in (
        (_("idle"), idle_kpa, IDLE_SHARE),
        (_("snap"), snap_kpa, SNAP_SHARE),
    ):
        if value is None:
            continue
        words = _("{name} {reading}; typical {usual} of cranking")
        if dry_kpa:
            words = _(
                "{name} {reading} ({share} of its cranking reading); typical {usual} of cranking"
            )
        parts.append(
            words.format(
                name=name,
                reading=shown(value, unit),
                share=percent(value / dry_kpa) if dry_kpa else "",
                usual=percent(usual),
            )
        )
    return ", ".join(parts)
