"""Help with reading one cylinder's pressure."""

from shopdiag.people.core.words import gettext as _
from traces.core.report.aid import Aid
from traces.core.report.results import Report


def pressure_aids(report: Report) -> tuple[Aid, ...]:
    """Return what helps to read a cylinder's pressure over its four strokes."""
    if report.parts.pressure is None:
        return ()
    return (
        Aid(
            _("How to read the four strokes"),
            (
                _(
                    "The piston compresses up to top dead centre and lets the gas expand again. A "
                    "tight cylinder gives nearly all of it back; what is missing on the way down "
                    "has leaked away or went into cold walls."
                ),
                _(
                    "While the piston pushes out, the pressure stays at what the exhaust holds "
                    "back. While it takes in, it stays at the intake's pressure."
                ),
            ),
        ),
        Aid(
            _("What the valve angles tell"),
            (
                _(
                    "The exhaust counts as open where the pressure leaves expansion, the intake as "
                    "closed where compression begins. Gas answers later than a valve lifts, so "
                    "that only captures of the same engine are compared by them."
                ),
                _(
                    "A cam that is late or early moves its angle in the whole engine, or in one "
                    "bank. A single cylinder points to its own valve train."
                ),
            ),
        ),
        Aid(
            _("What a leak looks like"),
            (
                _(
                    "Peak and expansion are lower, and the peak comes earlier. Where the gas goes "
                    "this recording does not tell; a leak-down test does."
                ),
            ),
        ),
    )
