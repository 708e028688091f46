"""What rules say about a test's rows: by limits, beside the other rows, by what was chosen."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from statistics import median
from typing import TypeAlias

from jobs.core.measured_tests.figure import COMMON, Figure, Limit, Row, Scope, Values
from jobs.core.measured_tests.shown import as_shown, limit_words, shown_value
from jobs.core.measured_tests.spread import LEAST_COMPARED, SLACK, Spread, spread_of
from shopdiag.people.core.words import gettext as _

GOOD, BAD, OPEN, NOTE = "good", "bad", "open", "note"
"""What a rule decides: `open` keeps a row from being proposed as good, `note` decides nothing."""


@dataclass(frozen=True, slots=True)
class Saying:
    """What one rule says about one row.

    Parameters
    ----------
    row
        Whose; None for the engine, or for all rows together.
    figure
        The name of the figure it is about.
    outcome
        `GOOD`, `BAD`, `OPEN` or `NOTE`.
    code
        What programs read.
    words
        One sentence.
    source
        By whose rule.
    """

    row: Row
    figure: str
    outcome: str
    code: str
    words: str
    source: str


@dataclass(frozen=True, slots=True)
class Given:
    """What a rule is given.

    Parameters
    ----------
    scope, figures
        Of the test.
    rows
        Figures by row, each with one figure or more.
    limits
        By the figure's name, as they apply to this job.
    unit
        The shop's unit of pressure, for sentences.
    """

    scope: Scope
    figures: tuple[Figure, ...]
    rows: Mapping[Row, Values]
    limits: Mapping[str, Limit]
    unit: str = "kPa"

    def taken(self, figure: Figure) -> dict[Row, float]:
        """Return a figure's values by row, where it was taken."""
        found = {row: figure.of(values) for row, values in self.rows.items()}
        return {row: float(v) for row, v in found.items() if isinstance(v, int | float)}

    def whose(self, row: Row) -> str:
        """Return a row in words, at the head of a sentence."""
        return row_words(self.scope, row)


def still_lacking(given: Given, row: Row, name: str) -> Saying:
    """Return that a figure is still to be noted before a row is good."""
    figure = next(figure for figure in given.figures if figure.name == name)
    words = _("{whose}: still to be noted: {label}.")
    words = words.format(whose=given.whose(row), label=_(figure.label).lower())
    return Saying(row, name, OPEN, "not-looked-at", words, _(COMMON))


Rule: TypeAlias = Callable[[Given], Iterable[Saying]]


def row_words(scope: Scope, row: Row) -> str:
    """Return what a row is about, at the head of a sentence."""
    if row is None:
        return _("Engine")
    if scope is Scope.BANK:
        return _("Bank {bank}").format(bank=row)
    return _("Cylinder {cylinder}").format(cylinder=row)


def by_limits(given: Given) -> Iterable[Saying]:
    """Hold every figure against the limit that applies to it."""
    for figure in given.figures:
        limit = given.limits.get(figure.name)
        if limit is None:
            continue
        taken = given.taken(figure)
        spread = spread_of(taken, limit.apart) if taken and limit.apart is not None else None
        for row, value in taken.items():
            yield _held(given, figure, limit, (row, value), spread)


def missed(figure: Figure, limit: Limit, value: float, unit: str) -> str:
    """Return `low` or `high` where a value misses a limit as both are shown; '' where it keeps it.

    What reads the same as the limit keeps it: 1.25 psi is the limit that is printed as 8.6 kPa.
    """
    shown = as_shown(figure, value, unit)
    if limit.least is not None and shown < as_shown(figure, limit.least, unit):
        return "low"
    return "high" if limit.most is not None and shown > as_shown(figure, limit.most, unit) else ""


def _held(
    given: Given, figure: Figure, limit: Limit, reading: tuple[Row, float], spread: Spread | None
) -> Saying:
    row, value = reading
    side = missed(figure, limit, value, given.unit)
    shown = shown_value(figure, value, given.unit)
    about = {
        "whose": given.whose(row),
        "label": _(figure.label),
        "value": shown,
        "limit": limit_words(figure, limit, given.unit),
    }
    source = _(limit.source)
    if side:
        words = _("{whose}: {label} is {value}; the limit is {limit}.").format(**about)
        return Saying(row, figure.name, BAD, side, words, source)
    if spread and row in spread.odd:
        middle = shown_value(figure, spread.middle, given.unit)
        words = _("{whose}: {label} is {value}, the mean {mean}; allowed is {limit}.")
        if not spread.is_of_mean:
            words = _(
                "{whose}: {label} is {value}, the middle value is {mean}. It counts here because "
                "a figure far out moves the mean; allowed is {limit}."
            )
        words = words.format(**about, mean=middle)
        return Saying(row, figure.name, BAD, "apart", words, source)
    if spread and not spread.is_settled:
        words = _("{whose}: {label} is {value}; the rows do not tell which one is odd.")
        return Saying(row, figure.name, OPEN, "too-few", words.format(**about), source)
    words = _("{whose}: {label} is {value} and keeps the limit: {limit}.").format(**about)
    return Saying(row, figure.name, GOOD, "kept", words, source)


def by_comparison(given: Given) -> Iterable[Saying]:
    """Find the row that stands out; where half of them would, nothing stands out."""
    for figure in given.figures:
        limit = given.limits.get(figure.name)
        rule = figure.comparison
        if rule is None or (limit is not None and limit.is_set):
            continue
        taken = given.taken(figure)
        middle = median(taken.values()) if taken else 0.0
        shares = {row: (v - middle) / middle if middle > 0 else 0.0 for row, v in taken.items()}
        odd = [
            row
            for row, share in shares.items()
            if (rule.is_low_bad and share < -rule.bad_share - SLACK)
            or (rule.is_high_bad and share > rule.bad_share + SLACK)
        ]
        is_settled = len(taken) >= LEAST_COMPARED and middle > 0 and 2 * len(odd) < len(taken)
        for row, share in shares.items():
            about = {
                "whose": given.whose(row),
                "label": _(figure.label),
                "value": shown_value(figure, taken[row], given.unit),
                "middle": shown_value(figure, middle, given.unit),
            }
            source = _(rule.source)
            if not is_settled:
                words = _("{whose}: {label} is {value}; the rows do not tell which one is odd.")
                yield Saying(row, figure.name, OPEN, "too-few", words.format(**about), source)
            elif row in odd:
                code = "odd-low" if share < 0 else "odd-high"
                words = _(
                    "{whose}: {label} is {value}, the middle value is {middle}: it stands out."
                )
                yield Saying(row, figure.name, BAD, code, words.format(**about), source)
            else:
                is_alike = (not rule.is_low_bad or share >= -rule.good_share - SLACK) and (
                    not rule.is_high_bad or share <= rule.good_share + SLACK
                )
                words = _("{whose}: {label} is {value}, the middle value is {middle}.")
                yield Saying(
                    row,
                    figure.name,
                    GOOD if is_alike else OPEN,
                    "alike" if is_alike else "between",
                    words.format(**about),
                    source,
                )


def by_choice(given: Given) -> Iterable[Saying]:
    """Say what the chosen answers decide and point at."""
    for figure in given.figures:
        for row, values in given.rows.items():
            chosen = figure.choice(values.get(figure.name, ""))
            if chosen is None or not (chosen.outcome or chosen.reading):
                continue
            words = _("{whose}: {label}: {answer}.").format(
                whose=given.whose(row), label=_(figure.label), answer=_(chosen.label).lower()
            )
            if chosen.reading:
                words = f"{words} {_(chosen.reading)}"
            yield Saying(
                row, figure.name, chosen.outcome or NOTE, chosen.key, words, _(chosen.source)
            )


def proposed(sayings: Iterable[Saying]) -> dict[Row, str]:
    """Return the outcome that the rules propose by row; rows they do not settle are left out."""
    by_row: dict[Row, set[str]] = {}
    for saying in sayings:
        by_row.setdefault(saying.row, set()).add(saying.outcome)
    found: dict[Row, str] = {}
    for row, outcomes in by_row.items():
        if BAD in outcomes:
            found[row] = BAD
        elif GOOD in outcomes and OPEN not in outcomes:
            found[row] = GOOD
    return found
