"""Checks of what a method measured: whether it may be judged, and what to mind."""

import numpy as np

from engines.core.firing import FiringOrder
from shopdiag.people.core.numerals import whole_percent
from shopdiag.people.core.words import NOTHING, Text, say
from traces.core.crank import LEAST_CYCLES
from traces.core.findings import Finding, finding, listed, place_words
from traces.core.humps import Limits, Reference, high_findings
from traces.core.preparation import Measured, Prepared
from traces.core.report import LOW_CALLS, Estimate
from traces.core.waveform import Floats

_LEAST_EXPLAINED = 0.78
_LEAST_STRENGTH = 0.01  # of the cranking current: below it is no compression
_WIDEST = 0.35  # half of an interval
_WIDE = 0.30  # of a whole interval: an even verdict on such ones is none to rely on
_WELL = 0.05  # below the limit of low ones
_DEAD = 0.2
_WEAK = 0.5
_THERE = 0.6
_EVERY_OTHER = 2
_FEW = 3
_NEIGHBOUR = 1.10
_CYLINDERS = (3, 4, 5, 6, 8, 10, 12)
_CLEARLY = 10.0  # "very strong" evidence (Kass and Raftery, JASA 90, 1995; from memory)
_NOISE = 0.01  # of the mean compression: less is no pattern


def check_fit(measured: Measured, prepared: Prepared) -> list[Finding]:
    """Refuse strengths that are none, or a cycle that lobes do not explain."""
    cycles = int(measured.per_cycle.shape[0])
    if cycles < LEAST_CYCLES:
        return [finding("too-short", cycles=cycles, needed=LEAST_CYCLES)]
    level_a = prepared.cranking.span.level_a
    strongest = float(measured.strengths.max())
    if not np.isfinite(measured.strengths).all() or strongest < _LEAST_STRENGTH * level_a:
        return [finding("no-compression", ripple=f"{100 * max(strongest, 0) / level_a:.1f}")]
    if measured.explained < _LEAST_EXPLAINED:
        return [finding("poor-fit", share=f"{100 * measured.explained:.0f}")]
    return _check_period(measured, prepared)


def _check_period(measured: Measured, prepared: Prepared) -> list[Finding]:
    """Refuse where the compressions repeat with another number of cylinders than entered.

    Where no sync marks the cycle, six cylinders entered as four look like four at a higher speed,
    but for a weak one, which comes back every sixth compression. The numbers are weighed by the
    Bayesian information criterion (Schwarz, Ann. Statist. 6, 1978; from memory): means by
    place in the period, with a straight line for a drift.
    """
    rows, cylinders = measured.per_cycle.shape
    order = prepared.order
    starts = prepared.cranking.cycle_starts
    # more rows than cycles that are alike: a method that looked at all of the crank
    in_a_row = rows > starts.size or (rows == starts.size and np.allclose(np.diff(starts), 1.0))
    # marks by hand do not tell how often the cycle comes
    is_counted = prepared.sync.state == "every-720" and not prepared.sync.by_hand
    if is_counted or not order.is_even or not in_a_row:
        return []
    strengths = measured.per_cycle.ravel() / float(measured.strengths.mean())
    others = [m for m in _CYLINDERS if m % cylinders and cylinders % m and 3 * m <= strengths.size]
    if not others:
        return []
    # cylinders that are alike, in part or all, need no number of their own
    shorter = [m for m in range(1, cylinders + 1) if cylinders % m == 0]
    entered = min(_information(strengths, m) for m in shorter)
    best = min(others, key=lambda m: _information(strengths, m))
    if entered - _information(strengths, best) < _CLEARLY:
        return []
    why = say(": a pattern comes back every {best} humps, so it may have {best}", best=best)
    return [finding("hump-mismatch", cylinders=cylinders, why=why)]


def _information(values: Floats, period: int) -> float:
    """Return the information criterion of a pattern that repeats, lower is better."""
    at = np.arange(values.size)
    design = np.column_stack([at % period == i for i in range(period)]).astype(np.float64)
    design = np.column_stack([design, at - at.mean()])
    solved, *_ = np.linalg.lstsq(design, values, rcond=None)
    left = float(np.mean((values - design @ solved) ** 2)) + _NOISE**2
    return values.size * float(np.log(left)) + (period + 1) * float(np.log(values.size))


def check_estimates(
    estimates: tuple[Estimate, ...], reference: Reference, order: FiringOrder, limits: Limits
) -> list[Finding]:
    """Look at the figures themselves: too uncertain, too high, misleading humps.

    `order` begins at the first estimate.
    """
    half_widths = np.array([(e.high - e.low) / 2 for e in estimates])
    # what a second reference leaves open is no unsteadiness
    if reference.rival is None and float(np.median(half_widths)) > _WIDEST:
        return [finding("unsteady", why=say(": figures differ too much between cycles"))]
    if half := _mostly_dead(estimates):
        return [finding("hump-mismatch", cylinders=len(estimates), why=half)]
    found = _uncertain(estimates, limits)
    if reference.rival is not None:
        found.append(_doubtful_reference(estimates, reference))
    else:
        found += _perhaps_low(estimates, limits)
        if reference.count == 1 and len(estimates) > 1:
            found.append(finding("one-reference"))
    found.extend(high_findings(estimates, order))
    found.extend(_neighbours(estimates))
    found.append(finding("relative-only"))
    return found


def _doubtful_reference(estimates: tuple[Estimate, ...], reference: Reference) -> Finding:
    """Say that few cylinders stand above all others, and what each reading of that makes low."""
    above = [e for e, is_above in zip(estimates, reference.above, strict=True) if is_above]
    others = [e for e, is_above in zip(estimates, reference.above, strict=True) if not is_above]
    ratio = np.mean([e.relative for e in others]) / np.mean([e.relative for e in above])
    return finding(
        "reference-doubtful-one" if len(above) == 1 else "reference-doubtful",
        above=listed([_named(e, first=e is above[0]) for e in above]),
        share=f"{100 * (1 / ratio - 1):.0f}",
        low=f"{100 * ratio:.0f}",
    )


def _uncertain(estimates: tuple[Estimate, ...], limits: Limits) -> list[Finding]:
    """Name low figures that may belong to sound cylinders, and an even verdict on wide ones."""
    found = [
        finding(
            "too-uncertain-low",
            which=_named(e, first=True),
            figure=whole_percent(e.relative),
            low=whole_percent(e.low),
            high=whole_percent(e.high),
        )
        for e in estimates
        if e.call not in LOW_CALLS and e.relative < limits.suspect_below
    ]
    widest = _widest_even(estimates)
    if widest is not None:
        found.append(
            finding(
                "too-uncertain-even",
                which=_named(widest),
                low=whole_percent(widest.low),
                high=whole_percent(widest.high),
            )
        )
    return found


def _widest_even(estimates: tuple[Estimate, ...]) -> Estimate | None:
    """Return the cylinder that an even verdict is least sure of, where it is not sure of it."""
    compared = [e for e in estimates if e.call != "open"]
    widest = max(compared, key=lambda e: e.high - e.low)
    if any(e.call == "suspect" for e in estimates) or widest.high - widest.low <= _WIDE:
        return None
    return widest


def _perhaps_low(estimates: tuple[Estimate, ...], limits: Limits) -> list[Finding]:
    """Name cylinders that are not called low and may well be."""
    return [
        finding(
            "too-uncertain-sound",
            which=_named(e, first=True),
            figure=whole_percent(e.relative),
            low=whole_percent(e.low),
        )
        for e in estimates
        if _may_be_low(e, limits) and e is not _widest_even(estimates)
    ]


def _may_be_low(estimate: Estimate, limits: Limits) -> bool:
    """Return whether a cylinder that is not called low reaches well down to those that are."""
    if estimate.relative < limits.suspect_below:
        return False  # has a word of its own
    wide = estimate.call == "watch" or estimate.high - estimate.low > _WIDE
    return wide and estimate.low < limits.suspect_below - _WELL


def _mostly_dead(estimates: tuple[Estimate, ...]) -> Text:
    """Say so where only every second or third firing has a hump: fewer cylinders look alike."""
    count = len(estimates)
    shares = np.array([e.relative for e in estimates])
    for every in range(_EVERY_OTHER, count // 2 + 1):
        if count % every:
            continue
        # that a bank is weak happens; that all but every third are happens to no engine
        least = _DEAD if every == _EVERY_OTHER else _WEAK
        for first in range(every):
            there = np.arange(count) % every == first
            if shares[~there].max() >= least:
                continue
            if every == _EVERY_OTHER or shares[there].min() > _THERE:
                return _missing_words(count, every)
    there = int(np.count_nonzero(shares >= _DEAD))
    if count > _FEW and 2 * there < count:
        return say(
            ": only {there} of {count} are there, so it may have fewer", there=there, count=count
        )
    return NOTHING


def _missing_words(count: int, every: int) -> Text:
    left = count // every
    if every == _EVERY_OTHER:
        return say(
            ": every other one is missing, so it has {left} or a whole bank is dead", left=left
        )
    return say(": only one in {every} is there, so it may have {left}", every=every, left=left)


def _neighbours(estimates: tuple[Estimate, ...]) -> list[Finding]:
    """Name each hump that only looks strong because the one before it is weak."""
    found = []
    plain: Floats = np.array([e.hump_relative or 0.0 for e in estimates])
    for i, estimate in enumerate(estimates):
        before = estimates[i - 1]
        if before.call in LOW_CALLS and estimate.call not in LOW_CALLS and plain[i] > _NEIGHBOUR:
            share = f"{100 * (plain[i] - 1):.0f}"
            found.append(finding("neighbour-effect", high=_named(estimate), share=share))
    return found


def _named(estimate: Estimate, *, first: bool = False) -> Text:
    return place_words(estimate.cylinder, estimate.position, first=first)
