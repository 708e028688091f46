"""Help with reading a running balance, in place of what is said of compressions."""

from shopdiag.people.core.words import gettext as _
from traces.core.report.aid import Aid
from traces.core.report.results import Report


def running_aids(report: Report) -> tuple[Aid, ...]:
    """Return what helps to read the figures of an idling engine."""
    how = Aid(
        _("How to read the bars"),
        (
            _(
                "Each firing speeds the crank up a little. How much it does, firing by firing, is "
                "measured by the crank sensor's teeth and compared with the good cylinders."
            ),
            _(
                "Spark, fuel, air and compression all show here alike. A cranking balance beside "
                "it tells compression from the others."
            ),
        ),
    )
    whole = Aid(
        _("Why the interval of a weak cylinder is wide"),
        (
            _(
                "What a good firing gives is read from how fast the crank loses speed once the "
                "engine is switched off. Without that end of the recording a usual value has to do."
            ),
        ),
    )
    running = report.parts.running
    return (how, whole) if running is None or not running.is_level_measured else (how,)
