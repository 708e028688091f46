"""What the week's page says of proportions and comebacks."""

from jobs.core.comebacks import Comeback
from jobs.core.proportion import Proportion
from jobs.core.request import named
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import pgettext


def proportion_words(found: Proportion) -> str:
    """Return count, denominator, share and interval; a share of nothing is not told."""
    if found.share is None or found.interval is None:
        return pgettext("verdicts", "none checked")
    low, high = found.interval
    return _("{count} of {total}: {share:.0f} % (between {low:.0f} and {high:.0f} %)").format(
        count=found.count,
        total=found.total,
        share=100 * found.share,
        low=100 * low,
        high=100 * high,
    )


def comeback_words(pair: Comeback) -> str:
    """Return what a comeback has in common with the visit before; empty for nothing."""
    both = []
    if pair.cylinders:
        both.append(named(pair.cylinders))
    both += pair.codes
    if not both:
        return ""
    return _("both times {what}").format(what=", ".join(both))
