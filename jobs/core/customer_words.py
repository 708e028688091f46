"""What a cranking test showed of the cylinders that were signed, in words for the customer."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from jobs.core.pressure import percent
from jobs.core.request import is_open, named, one_or_other
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import ngettext
from traces.core.findings import listed

_LOW = frozenset({"suspect", "watch"})


@dataclass(frozen=True, slots=True)
class CrankingTest:
    """A judged capture as far as the customer reads of it.

    Parameters
    ----------
    is_uneven
        Whether it found the cylinders uneven.
    relative
        Relative compression by cylinder, 1.00 = like the good ones; empty where the capture does
        not say which cylinder is which.
    calls
        `suspect`, `watch`, `sound` or `open` by cylinder; empty as well.
    low
        Relative compression of those that it found low, whichever they are.
    sets
        The sets of low cylinders that fit; one where it settles them.
    """

    is_uneven: bool
    relative: Mapping[int, float]
    calls: Mapping[int, str]
    low: tuple[float, ...]
    sets: tuple[tuple[int, ...], ...]
    beside: str = ""
    """What shows beside low cylinders: one that stands high, a bank weaker as a whole."""


@dataclass(frozen=True, slots=True)
class CylindersTested:
    """Cylinders that the tests on the engine found bad in at least one, or good in all."""

    bad: frozenset[int]
    good: frozenset[int]


@dataclass(frozen=True, slots=True)
class GaugeTold:
    """What a compression gauge showed, as far as the customer reads of it.

    Parameters
    ----------
    measured
        Cylinders that a gauge measured.
    shares
        Of the highest reading beside it, by cylinder; empty where one alone was measured.
    highest
        The cylinder with that reading; None without shares.
    """

    measured: frozenset[int] = frozenset()
    shares: Mapping[int, float] = field(default_factory=dict)
    highest: int | None = None

    def may_tell(self, cylinders: Collection[int]) -> bool:
        """Whether each of these was measured beside another one that showed more."""
        return bool(cylinders) and set(cylinders) <= set(self.shares) - {self.highest}


def measured_elsewhere(
    signed: Collection[int], measured: CylindersTested, *, tells_good: bool = False
) -> str:
    """Say that tests on the engine found other cylinders bad than were signed; empty for none.

    Parameters
    ----------
    tells_good
        Whether it is also said by itself that they found a signed one good.
    """
    outside = measured.bad - set(signed)
    refuted = measured.good & set(signed)
    if not outside and not (refuted and tells_good):
        return ""
    if not outside:
        return _("A test on the engine itself found no fault on {refuted}.").format(
            refuted=named(refuted)
        )
    found = _("A test on the engine itself found a fault on {outside}.")
    if refuted:
        found = _("A test on the engine itself found a fault on {outside} and none on {refuted}.")
    elif signed:
        found = _("A test on the engine itself found a fault on {outside} as well.")
    return found.format(outside=named(outside), refuted=named(refuted))


def compression_words(
    signed: Collection[int],
    tested: CrankingTest | None,
    bad: Collection[int],
    gauge: GaugeTold | None = None,
) -> str:
    """Say what the test showed of cylinders that were signed as low.

    Parameters
    ----------
    signed
        At least one cylinder.
    tested
        None where no capture could be judged.
    bad
        Cylinders that the tests on the engine found bad.
    gauge
        What a gauge showed; it is told in place of the capture's figure, which compares the
        cranking current and is no pressure.
    """
    gauge = gauge or GaugeTold()
    if tested is None:
        return _("The trouble is in {signed}.").format(signed=named(signed))
    if len(tested.sets) < 2:
        return _settled(signed, tested, gauge)
    if is_open(signed, tested.sets):
        measured = [s for s in tested.sets if set(s) == set(bad) & set(signed)]
        if measured:
            return _(
                "{built} The cranking test left open which of {signed} it is; measuring them "
                "settled it."
            ).format(
                built=_built(measured[0], _of(measured[0], tested), gauge), signed=named(signed)
            )
        among = {c for one in tested.sets for c in one}
        either, figures = _either(tested.sets), _of(tested.sets[0], tested)
        return _compared(either, figures) if among & gauge.measured else _low(either, figures)
    if not any(set(s) == set(signed) for s in tested.sets):
        return f"{_named_by_diagnosis(signed)}. {_pointed_at(tested.sets)}"
    built = _built(signed, _of(signed, tested), gauge)
    left_open = _("{built} The cranking test left open which it is; the diagnosis named {signed}.")
    was_measured = set(signed) <= set(bad)
    return built if was_measured else left_open.format(built=built, signed=named(signed))


def uneven_but_beyond(sets: Iterable[Collection[int]]) -> str:
    """Say that no compression fault was signed although the test compared unevenly."""
    found = [s for s in sets if s]
    if not found:
        return _(
            "In a cranking test the cylinders compared unevenly; the diagnosis found no "
            "compression fault all the same."
        )
    return _(
        "In a cranking test the cylinders compared unevenly, with {low} low; the diagnosis found "
        "no compression fault all the same."
    ).format(low=one_or_other(found))


def _settled(signed: Collection[int], tested: CrankingTest, gauge: GaugeTold) -> str:
    fitting = {c for one in tested.sets for c in one}
    calls = {c: tested.calls.get(c, "") for c in sorted(signed)}
    low = [c for c, call in calls.items() if call in _LOW]
    # without numbers only the set that fits says which are low
    unnumbered = [c for c, call in calls.items() if not call and (not fitting or c in fitting)]
    opened = [c for c, call in calls.items() if call == "open"]
    parts = []
    if low:
        parts.append(_built(low, [tested.relative[c] for c in low], gauge))
    if unnumbered and tested.is_uneven:
        parts.append(_built(unnumbered, (), gauge))
    if opened:
        parts.append(
            _("{which} was not tested: its plug was out.").format(which=_capital(named(opened)))
        )
    built = {*low, *opened, *(unnumbered if tested.is_uneven else ())}
    against = [c for c in calls if c not in built]
    if against:
        shown = _("{named}; in this test the cylinders compared evenly.")
        if tested.is_uneven or tested.beside:
            shown = ngettext(
                "{named}; the test itself did not show it low.",
                "{named}; the test itself did not show them low.",
                len(against),
            )
        parts.append(shown.format(named=_named_by_diagnosis(against)))
    if tested.is_uneven and fitting - set(signed):
        parts.append(_pointed_at([sorted(fitting - set(signed))]))
    if tested.beside:
        parts.append(tested.beside)
    return " ".join(parts)


def _of(cylinders: Collection[int], tested: CrankingTest) -> tuple[float, ...]:
    """Return the figures of those found low where they are as many; numbers are open."""
    return tested.low if len(tested.low) == len(cylinders) else ()


def _built(cylinders: Collection[int], figures: Collection[float], gauge: GaugeTold) -> str:
    if gauge.may_tell(cylinders) and gauge.highest is not None:
        numbers = sorted(cylinders)
        return _("By the gauge, {who} reached {much} of the compression of {compared}.").format(
            who=named(numbers),
            much=listed([percent(gauge.shares[c]) for c in numbers]),
            compared=named([gauge.highest]),
        )
    if gauge.measured & set(cylinders):
        return _compared(named(cylinders), figures)
    return _low(named(cylinders), figures)


def _compared(who: str, figures: Collection[float]) -> str:
    """Tell the capture's figure beside a gauge that has the word on compression."""
    if not figures:
        return _low(who, figures)
    much = listed([percent(f) for f in figures])
    return _("In the cranking test {who} gave about {much} of what the good ones gave.").format(
        who=who, much=much
    )


def _low(who: str, figures: Collection[float]) -> str:
    # "About" and "in this test": it is a comparison and not a pressure.
    if not figures:
        return _("{who} built less compression than the others in this test.").format(
            who=_capital(who)
        )
    much = listed([percent(f) for f in figures])
    return _("{who} built about {much} of the compression of the good ones in this test.").format(
        who=_capital(who), much=much
    )


def _either(sets: Collection[Collection[int]]) -> str:
    if all(len(s) == 1 for s in sets):
        return _("one of {cylinders}").format(cylinders=named([c for s in sets for c in s]))
    return _("either {sets}").format(sets=one_or_other(sets))


def _named_by_diagnosis(cylinders: Collection[int]) -> str:
    return ngettext(
        "{which} was named by the diagnosis", "{which} were named by the diagnosis", len(cylinders)
    ).format(which=_capital(named(cylinders)))


def _pointed_at(sets: Collection[Collection[int]]) -> str:
    return _("The test itself pointed at {sets}.").format(sets=one_or_other(sets))


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
