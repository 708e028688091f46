"""Codes and misfire counts that name another cylinder or bank than a verdict does.

They neither prove nor disprove it: a code may come of spark or fuel, and counters can name the
wrong cylinder. But who signs, orders or measures has to see that the two differ.
"""

from collections.abc import Collection

from jobs.core.candidate_ranking import Misfires
from jobs.core.request import named

_MUCH = 0.5
_ENOUGH_COUNTS = 20


def codes_beside(
    cylinders: Collection[int], misfires: Misfires, *, what: str = "the verdict"
) -> tuple[str, ...]:
    """Return sentences on codes of cylinders, counts, and codes of banks that name another place.

    Parameters
    ----------
    cylinders
        The verdict's; empty where it names none.
    misfires
        The visit's codes and newest counts, with the engine's banks.
    what
        What names the cylinders, as the sentences tell it.
    """
    beside = named(cylinders) if cylinders else "no cylinder"
    elsewhere = {c: code for c, (code, _) in misfires.named.items() if c not in cylinders}
    found = []
    if elsewhere:
        codes = ", ".join(elsewhere[c] for c in sorted(elsewhere))
        verb = "name" if len(elsewhere) > 1 else "names"
        found.append(f"{codes} {verb} {named(elsewhere)}; {what} names {beside}.")
    most = _counted_on(misfires)
    if most is not None and most not in cylinders:
        found.append(
            f"{misfires.counts[most]} of {misfires.total} misfires were counted on cylinder "
            f"{most}; {what} names {beside}."
        )
    here = {misfires.banks[c] for c in cylinders if c in misfires.banks}
    where = " and ".join(f"bank {bank}" for bank in sorted(here))
    found += [
        f"{code} names bank {bank}; {what} names {beside}{f' on {where}' if where else ''}."
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
