"""Codes and misfire counts that name another cylinder or bank than a verdict does.

They neither prove nor disprove it: a code may come of spark or fuel, and counters can name the
wrong cylinder. But who signs, orders or measures has to see that the two differ.
"""

from collections.abc import Collection

from jobs.core.candidate_ranking import Misfires
from jobs.core.request import named
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import ngettext, say
from traces.core.findings import listed

_MUCH = 0.5
_ENOUGH_COUNTS = 20


def codes_beside(
    cylinders: Collection[int], misfires: Misfires, *, what: str = ""
) -> tuple[str, ...]:
    """Return sentences on codes of cylinders, counts, and codes of banks that name another place.

    Parameters
    ----------
    cylinders
        The verdict's; empty where it names none.
    misfires
        The visit's codes and newest counts, with the engine's banks.
    what
        What names the cylinders, as the sentences tell it; the verdict where nothing is given.
    """
    verdict = {
        "what": what or _("the verdict"),
        "beside": named(cylinders) if cylinders else _("no cylinder"),
    }
    elsewhere = {c: code for c, (code, _status) in misfires.named.items() if c not in cylinders}
    found = []
    if elsewhere:
        found.append(
            ngettext(
                "{codes} names {elsewhere}; {what} names {beside}.",
                "{codes} name {elsewhere}; {what} names {beside}.",
                len(elsewhere),
            ).format(
                codes=", ".join(elsewhere[c] for c in sorted(elsewhere)),
                elsewhere=named(elsewhere),
                **verdict,
            )
        )
    most = _counted_on(misfires)
    if most is not None and most not in cylinders:
        found.append(
            _(
                "{count} of {total} misfires were counted on cylinder {most}; {what} names "
                "{beside}."
            ).format(count=misfires.counts[most], total=misfires.total, most=most, **verdict)
        )
    here = sorted({misfires.banks[c] for c in cylinders if c in misfires.banks})
    if here:
        banks = listed([say("bank {bank}", bank=bank) for bank in here])
        verdict["beside"] = _("{cylinders} on {banks}").format(
            cylinders=verdict["beside"], banks=banks
        )
    found += [
        _("{code} names bank {bank}; {what} names {beside}.").format(
            code=code, bank=bank, **verdict
        )
        for bank, code in sorted(misfires.banks_named.items())
        if bank not in here
    ]
    return tuple(found)


def _counted_on(misfires: Misfires) -> int | None:
    """Return the cylinder on which most misfires were counted; None where none stands out."""
    if misfires.total < _ENOUGH_COUNTS:
        return None
    most = max(misfires.counts, key=lambda cylinder: misfires.counts[cylinder])
    return most if misfires.counts[most] > _MUCH * misfires.total else None
