"""What compression gauge readings say: limits by rule with their source.

Makers' limits differ, so a rule is a setting that is kept with the job. Readings are gauge
pressures in kilopascals by cylinder number, as stamped on the engine.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from jobs.core.pressure import percent, percents_apart, shown, shown_apart
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop
from traces.core.plain_json import PlainJson

_LOWER_PER_M = 0.01 / 90
"""Makers' least values fall by about 1 % per 75 to 100 m of altitude (a published rule)."""

_SLACK = 1e-6
"""Readings turned from psi or bar must not fail a limit by rounding."""


@dataclass(frozen=True, slots=True)
class GaugeRule(PlainJson):
    """The limits by which one job's gauge readings are judged.

    Parameters
    ----------
    key, name
        Short name kept in the database, and what people read.
    source
        Where the limits come from; shown wherever they are applied.
    lowest_share
        Least allowed lowest-over-highest reading, 0..1; None where the rule has none.
    least_kpa
        Least allowed reading; None where the rule has none.
    spread_kpa
        Most allowed difference between highest and lowest; None where the rule has none.
    standard_kpa
        What a good engine shows, for orientation; never a limit.
    altitude_m
        Where the engine is measured; the least reading is lowered for the thin air there.
    """

    key: str
    name: str
    source: str
    lowest_share: float | None = None
    least_kpa: float | None = None
    spread_kpa: float | None = None
    standard_kpa: float | None = None
    altitude_m: float = 0.0

    @property
    def least_here_kpa(self) -> float | None:
        """Least allowed reading at this altitude."""
        return None if self.least_kpa is None else self.least_kpa * (1 - self._lowered)

    @property
    def _lowered(self) -> float:
        return min(1.0, _LOWER_PER_M * self.altitude_m)

    def at(self, altitude_m: float) -> "GaugeRule":
        """Return the same rule for a shop at this altitude."""
        return replace(self, altitude_m=float(altitude_m))

    def words(self, unit: str) -> str:
        """Return the limits in one line, pressures in `unit`."""
        parts = []
        if self.lowest_share is not None:
            parts.append(
                _("lowest at least {share} of highest").format(share=percent(self.lowest_share))
            )
        if self.least_kpa is not None:
            parts.append(_("none under {least}").format(least=self._least_words(unit)))
        if self.spread_kpa is not None:
            parts.append(_("at most {spread} apart").format(spread=shown(self.spread_kpa, unit)))
        if self.standard_kpa is not None:
            parts.append(_("usual when good: {usual}").format(usual=shown(self.standard_kpa, unit)))
        return "; ".join(parts)

    def _least_words(self, unit: str) -> str:
        least_kpa, here_kpa = self.least_kpa or 0.0, self.least_here_kpa or 0.0
        if here_kpa == least_kpa:
            return shown(least_kpa, unit)
        return _("{here} ({least} less {share} for {altitude_m:.0f} m above the sea)").format(
            here=shown(here_kpa, unit),
            least=shown(least_kpa, unit),
            share=percent(self._lowered),
            altitude_m=self.altitude_m,
        )


RULES: tuple[GaugeRule, ...] = (
    GaugeRule(
        "share-75",
        gettext_noop("Lowest at least 75 % of highest"),
        gettext_noop("two vehicle manufacturers' service texts, as an example"),
        lowest_share=0.75,
    ),
    GaugeRule(
        "share-70",
        gettext_noop("Lowest at least 70 % of highest, none under 690 kPa (100 psi)"),
        gettext_noop("another vehicle manufacturer's service text, as an example"),
        lowest_share=0.70,
        least_kpa=690.0,
    ),
    GaugeRule(
        "petrol-1000",
        gettext_noop("None under 1000 kPa, at most 100 kPa apart"),
        gettext_noop("a manufacturer's figures for one 1.8 L petrol engine, as an example"),
        least_kpa=1000.0,
        spread_kpa=100.0,
        standard_kpa=1500.0,
    ),
    GaugeRule(
        "diesel-2400",
        gettext_noop(
            "Diesel: none under 24 bar, at most 3 bar apart, lowest at least 80 % of highest"
        ),
        gettext_noop("a manufacturer's figures for one diesel engine, as an example"),
        lowest_share=0.80,
        least_kpa=2400.0,
        spread_kpa=300.0,
        standard_kpa=2700.0,
    ),
)
DEFAULT_RULE = RULES[0]
DEFAULT_DIESEL_RULE = GaugeRule(
    "diesel-80",
    gettext_noop("Diesel: lowest at least 80 % of highest"),
    gettext_noop("a vehicle manufacturer's service text, as an example"),
    lowest_share=0.80,
)


def default_rule(fuel: str) -> GaugeRule:
    """Return the rule that stands until somebody enters the maker's own limits."""
    return DEFAULT_DIESEL_RULE if fuel == "diesel" else DEFAULT_RULE


def rule_of(key: str) -> GaugeRule | None:
    """Return the rule of that key, None where there is none."""
    return next((r for r in (*RULES, DEFAULT_DIESEL_RULE) if r.key == key), None)


@dataclass(frozen=True, slots=True)
class GaugeReading:
    """What the dry readings say under one rule.

    Parameters
    ----------
    lowest, highest
        Cylinders with the lowest and the highest reading.
    share
        Lowest over highest; None with a single cylinder.
    spread_kpa
        Highest minus lowest; None with a single cylinder.
    failing
        Cylinders that miss a limit, lowest numbers first.
    sentences
        Each limit that is missed, in words; one sentence that none is when none is.
    """

    lowest: int
    highest: int
    share: float | None
    spread_kpa: float | None
    failing: tuple[int, ...]
    sentences: tuple[str, ...]

    @property
    def passes(self) -> bool:
        """Whether every limit of the rule is kept."""
        return not self.failing


def gauge_read(dry_kpa: Mapping[int, float], rule: GaugeRule, unit: str = "kPa") -> GaugeReading:
    """Judge dry readings by `rule`.

    Parameters
    ----------
    dry_kpa
        Gauge pressure in kPa by cylinder, at least one.
    rule
        The job's limits.
    unit
        Unit of the sentences.

    Raises
    ------
    ValueError
        If there is no reading, or one is negative.
    """
    if not dry_kpa:
        raise ValueError("There is no gauge reading yet.")
    if min(dry_kpa.values()) < 0:
        raise ValueError("A gauge pressure cannot be negative.")
    lowest = min(dry_kpa, key=lambda c: (dry_kpa[c], c))
    highest = max(dry_kpa, key=lambda c: (dry_kpa[c], -c))
    top_kpa = dry_kpa[highest]
    several = len(dry_kpa) > 1
    failing: set[int] = set()
    sentences: list[str] = []
    if several and rule.lowest_share is not None and top_kpa > 0:
        under = [c for c, v in dry_kpa.items() if v < rule.lowest_share * top_kpa - _SLACK]
        failing.update(under)
        for c in sorted(under):
            share, limit = percents_apart(dry_kpa[c] / top_kpa, rule.lowest_share)
            sentences.append(
                _("Cylinder {c} has {share} of the highest; the limit is {limit}.").format(
                    c=c, share=share, limit=limit
                )
            )
    least_kpa = rule.least_here_kpa
    if least_kpa is not None:
        weak = [c for c, v in dry_kpa.items() if v < least_kpa - _SLACK]
        failing.update(weak)
        for c in sorted(weak):
            reading, least = shown_apart(dry_kpa[c], least_kpa, unit)
            sentences.append(
                _("Cylinder {c} shows {reading}; the least is {least}.").format(
                    c=c, reading=reading, least=least
                )
            )
    spread_kpa = top_kpa - dry_kpa[lowest] if several else None
    if (
        spread_kpa is not None
        and rule.spread_kpa is not None
        and spread_kpa > rule.spread_kpa + _SLACK
    ):
        # every one of them, not the lowest alone: a maker's spread holds for each cylinder
        beyond = [c for c, v in dry_kpa.items() if top_kpa - v > rule.spread_kpa + _SLACK]
        failing.update(beyond)
        for c in sorted(beyond):
            spread, most = shown_apart(top_kpa - dry_kpa[c], rule.spread_kpa, unit)
            sentences.append(
                _("Cylinders {c} and {highest} are {spread} apart; the most is {most}.").format(
                    c=c, highest=highest, spread=spread, most=most
                )
            )
    return GaugeReading(
        lowest=lowest,
        highest=highest,
        share=dry_kpa[lowest] / top_kpa if several and top_kpa > 0 else None,
        spread_kpa=spread_kpa,
        failing=tuple(sorted(failing)),
        sentences=tuple(sentences) or (_none_missed(several=several),),
    )


def _none_missed(*, several: bool) -> str:
    if several:
        return _("No limit of this rule is missed.")
    return _("One reading compares with nothing; measure the other cylinders too.")
