"""Which of several fitting sets of low cylinders the visit's misfires point at.

An inference, not a measurement: a cylinder that lost compression mostly misfires, but a cylinder
may misfire for want of spark or fuel as well. The report of the capture stays as it is.
"""

import math
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from jobs.core.code_meaning import cylinder_named, weak_bank, weak_cylinder
from jobs.core.request import named
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop
from traces.core.findings import chained

Strength: TypeAlias = Literal["clear", "leaning", "open"]

MARK = gettext_noop("Inference, not measurement")
SOURCE = gettext_noop(
    "common practice; misfire counts as of SAE J1979 service $06 compare between cylinders only"
)

CAVEAT = gettext_noop(
    "Counters can name the wrong cylinder when the crank turns erratically, "
    "and some count by place in the firing order."
)
"""Makers' service texts on misfire detection; the latter is common practice."""

# Shares chosen by judgement, not counted anywhere: a set must never win by counts alone as if
# each misfire were a witness of its own, because all have one cause.
_MOST_WITNESSES = 4.0
_ENOUGH_COUNTS = 20
_ELSEWHERE = 0.4
"""Share of misfires that comes from cylinders whether they are low or not."""
_UNHEARD_OF = 0.05
"""Share by which none of this holds, so that no set is ever ruled out."""
_CODE_IF_LOW, _CODE_IF_SOUND = 0.6, 0.07
_PENDING_IF_LOW = 0.35
_CLEAR, _LEANING = 20.0, 3.0
_MUCH = 0.5
_LEAST_COUNTS = 10

_CIRCUIT_IF_LOW = 0.10
"""A circuit code explains a misfire by itself: it leans towards its cylinder, and settles none."""
_BANK_IF_LOW = 4.0
"""Odds that a code of a bank lends to a set with a cylinder there. False air or a sensor makes it
too, so that it leans and settles nothing; several of one bank have one cause and count once."""


@dataclass(frozen=True, slots=True)
class Misfires:
    """What a visit knows about misfires.

    Parameters
    ----------
    counts
        Misfires by cylinder number, of one reading; empty where none was taken.
    codes
        Codes with their status: (`P0304`, `stored`). Misfire, injector and glow plug codes name
        a cylinder; codes of cam timing, mixture and catalyst name a bank.
    banks
        Bank, 1 or 2, by cylinder; empty where there is one row or it is not known.
    """

    counts: Mapping[int, int]
    codes: Sequence[tuple[str, str]]
    banks: Mapping[int, int] = field(default_factory=dict)

    @property
    def banks_named(self) -> dict[int, str]:
        """Code by the bank it says burns badly, where the engine's banks are known."""
        known = set(self.banks.values())
        found: dict[int, str] = {}
        for code, _status in self.codes:
            bank = weak_bank(code)
            if bank in known and bank is not None and len(known) > 1:
                found.setdefault(bank, code)
        return found

    @property
    def named(self) -> dict[int, tuple[str, str]]:
        """Code and status by the cylinder that it names; stored and permanent before pending."""
        found: dict[int, tuple[str, str]] = {}
        for code, status in self.codes:
            cylinder = cylinder_named(code)
            if cylinder is None:
                continue
            before = found.get(cylinder)
            if before is None or _tells_more((code, status), before):
                found[cylinder] = (code, status)
        return found

    @property
    def total(self) -> int:
        """All misfires counted."""
        return sum(self.counts.values())

    @property
    def any(self) -> bool:
        """Whether something was counted or some misfire code stands."""
        return self.total > 0 or any(
            re.match(r"P03(0\d|1[0-46])", code) for code, _status in self.codes
        )


@dataclass(frozen=True, slots=True)
class RankedSet:
    """One set that fits the capture, and how far the misfires speak for it.

    Parameters
    ----------
    cylinders
        The set.
    weight
        Its share of likelihood among the sets, 0 to 1.
    reason
        What speaks for or against it.
    """

    cylinders: tuple[int, ...]
    weight: float
    reason: str


@dataclass(frozen=True, slots=True)
class Ranking:
    """The sets that fit, the likeliest first.

    Parameters
    ----------
    strength
        `clear`: 20 times as likely as the next; `leaning`: 3 times; `open`: neither.
    headline
        The inference in one sentence, marked as one.
    elsewhere
        What the misfires say about cylinders in none of the sets; empty where nothing.
    settle
        What would settle it, the easiest first.
    """

    sets: tuple[RankedSet, ...]
    strength: Strength
    headline: str
    elsewhere: str
    settle: tuple[str, ...]

    @property
    def order(self) -> tuple[int, ...]:
        """All cylinders of the sets, those of the likeliest set first."""
        return tuple(dict.fromkeys(c for one in self.sets for c in one.cylinders))


def ranked(candidates: Sequence[Collection[int]], misfires: Misfires) -> Ranking | None:
    """Rank the sets of low cylinders that fit a capture by the visit's misfires.

    Returns
    -------
    Ranking or None
        None where the capture leaves nothing open, or nothing is known that names a cylinder.
    """
    sets = list(dict.fromkeys(tuple(sorted(set(c))) for c in candidates if c))
    if len(sets) < 2 or not (misfires.total or misfires.named or misfires.banks_named):
        return None
    logs = [_log_likelihood(set(one), sets, misfires) for one in sets]
    top = max(logs)
    likely = [math.exp(value - top) for value in logs]
    even = _UNHEARD_OF / len(sets)
    weights = [(1.0 - _UNHEARD_OF) * one / sum(likely) + even for one in likely]
    rows = sorted(
        (
            RankedSet(one, round(weight, 4), _reason(one, misfires))
            for one, weight in zip(sets, weights, strict=True)
        ),
        key=lambda row: (-row.weight, row.cylinders),
    )
    ratio = rows[0].weight / max(rows[1].weight, 1e-9)
    strength: Strength = "clear" if ratio >= _CLEAR else "leaning" if ratio >= _LEANING else "open"
    return Ranking(
        sets=tuple(rows),
        strength=strength,
        headline=_headline(rows[0], strength, by_misfires=misfires.any),
        elsewhere=_elsewhere(sets, misfires),
        settle=_settle(rows),
    )


def _tells_more(one: tuple[str, str], other: tuple[str, str]) -> bool:
    """Return whether a code says more of a cylinder's work than another one does."""
    weak, other_weak = (weak_cylinder(code) is not None for code, _ in (one, other))
    if weak != other_weak:
        return weak
    return one[1] != "pending"


def _log_likelihood(low: set[int], sets: list[tuple[int, ...]], misfires: Misfires) -> float:
    of_banks = {misfires.banks.get(c) for c in low} & set(misfires.banks_named)
    return (
        _log_of_counts(low, misfires)
        + _log_of_codes(low, sets, misfires.named)
        + len(of_banks) * math.log(_BANK_IF_LOW)
    )


def _log_of_counts(low: set[int], misfires: Misfires) -> float:
    counts, total = misfires.counts, misfires.total
    if not total:
        return 0.0
    value = 0.0
    listed = low & set(counts)
    scale = _MOST_WITNESSES * min(1.0, total / _ENOUGH_COUNTS) / total
    for cylinder, count in counts.items():
        share = _ELSEWHERE / len(counts) if listed else 1.0 / len(counts)
        if cylinder in listed:
            share += (1.0 - _ELSEWHERE) / len(listed)
        value += scale * count * math.log(share)
    return value


def _log_of_codes(
    low: set[int], sets: list[tuple[int, ...]], codes: Mapping[int, tuple[str, str]]
) -> float:
    if not codes:
        return 0.0
    value = 0.0
    # where no code tells of misfires, a low cylinder without one is no surprise
    of_work = any(weak_cylinder(code) is not None for code, _ in codes.values())
    unnamed = _CODE_IF_LOW if of_work else _CIRCUIT_IF_LOW
    for cylinder in {c for one in sets for c in one} | set(codes):
        if_low = unnamed
        if cylinder in codes:
            if_low = _CODE_IF_LOW
        if cylinder in codes and codes[cylinder][1] == "pending":
            if_low = _PENDING_IF_LOW
        if cylinder in codes and weak_cylinder(codes[cylinder][0]) is None:
            if_low = _CIRCUIT_IF_LOW
        chance = if_low if cylinder in low else _CODE_IF_SOUND
        value += math.log(chance if cylinder in codes else 1.0 - chance)
    return value


def _reason(cylinders: tuple[int, ...], misfires: Misfires) -> str:
    parts = []
    codes = [misfires.named[c] for c in cylinders if c in misfires.named]
    for code, status in codes:
        parts.append(f"{code} {_(status)}" if status else code)
    own_banks = {misfires.banks.get(c) for c in cylinders}
    for bank, code in sorted(misfires.banks_named.items()):
        if bank in own_banks:
            parts.append(_("{code} names bank {bank}").format(code=code, bank=bank))
    if misfires.named and not codes:
        parts.append(_("no code names {cylinders}").format(cylinders=named(cylinders)))
    listed = [c for c in cylinders if c in misfires.counts]
    if misfires.total and listed:
        own = sum(misfires.counts[c] for c in listed)
        parts.append(
            _("{own} of {total} counts on {listed}").format(
                own=own, total=misfires.total, listed=named(listed)
            )
        )
    elif misfires.total:
        parts.append(_("nothing was counted for {cylinders}").format(cylinders=named(cylinders)))
    return str(chained(parts, "and")) if parts else _("no code and no count")


def _headline(best: RankedSet, strength: Strength, *, by_misfires: bool) -> str:
    what = _("the misfires") if by_misfires else _("the codes")
    if strength == "open":
        return _("{mark}: {what} of this job do not tell the fitting sets apart.").format(
            mark=_(MARK), what=what
        )
    pointing = _("{mark}: {what} of this job lean towards {cylinders} ({reason}). {caveat}")
    if strength == "clear":
        pointing = _("{mark}: {what} of this job point clearly at {cylinders} ({reason}). {caveat}")
    return pointing.format(
        mark=_(MARK),
        what=what,
        cylinders=named(best.cylinders),
        reason=best.reason,
        caveat=_(CAVEAT),
    )


def _elsewhere(sets: list[tuple[int, ...]], misfires: Misfires) -> str:
    inside = {c for one in sets for c in one}
    loud = {
        c
        for c, count in misfires.counts.items()
        if misfires.total >= _LEAST_COUNTS and count >= _MUCH * misfires.total
    }
    outside = sorted((loud | set(misfires.named)) - inside)
    found = []
    if outside:
        found.append(
            _(
                "Misfires also name {outside}, which is in none of the sets that fit: "
                "ignition or fuel there, or the firing order or numbering is another."
            ).format(outside=named(outside))
        )
    banks = {misfires.banks.get(c) for c in inside}
    found += [
        _("{code} names bank {bank}, which holds no cylinder of these sets.").format(
            code=code, bank=bank
        )
        for bank, code in sorted(misfires.banks_named.items())
        if bank not in banks
    ]
    return " ".join(found)


def _settle(rows: Sequence[RankedSet]) -> tuple[str, ...]:
    everything = named({c for row in rows for c in row.cylinders})
    return (
        _(
            "A capture with a sync that settles the cylinder: an ignition event once "
            "in 720 degrees, or a cam edge or injector of known angle."
        ),
        _(
            "Opening one easy cylinder, fuel and spark disabled as the manufacturer "
            "specifies, and cranking again: the hump that drops out is that "
            "cylinder's."
        ),
        _("A compression test on {everything}.").format(everything=everything),
    )
