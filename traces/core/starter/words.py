"""Starter figures in plain words, the same at the terminal, on pages and on paper."""

from dataclasses import dataclass

from shopdiag.people.core.numerals import written
from shopdiag.people.core.words import NOTHING, Text, say
from shopdiag.people.core.words import gettext as _
from traces.core.report import StarterFigures, StarterNote

PROBES = say(
    "Resistance of all that lies before the points where the voltage was "
    "measured: with the probe on the terminals the battery's own, further on "
    "cables and joints too."
)
AS_SHOWN = say(
    "As clamp and probe show them: their own scale errors come on top, and a "
    "slow clamp or one past its rating shows a lower inrush."
)


@dataclass(frozen=True, slots=True)
class StarterRow:
    """One figure for people.

    Parameters
    ----------
    figure
        Its name in the result.
    label
        What it is.
    text
        Value with unit and error.
    remark
        What to mind with it; empty where nothing.
    note
        Where it lies against typical figures; None where none are at hand.
    """

    figure: str
    label: str
    text: str
    remark: str
    note: StarterNote | None


@dataclass(frozen=True, slots=True)
class Missing:
    """Figures that are not known, and the one reason for all of them."""

    labels: tuple[str, ...]
    why: str


_LABELS = {
    "inrush_peak_a": say("Inrush peak"),
    "run_up_s": say("Run-up"),
    "mean_current_a": say("Mean cranking current"),
    "cranking_rpm": say("Cranking speed"),
    "trend_rpm_per_s": say("Trend of the speed"),
    "rest_v": say("Voltage before the crank"),
    "inrush_minimum_v": say("Lowest voltage at the inrush"),
    "mean_cranking_v": say("Mean voltage while cranking"),
    "recovered_v": say("Voltage after the crank"),
    "open_circuit_drop_v": say("Lower than before by"),
    "ripple_resistance_mohm": say("Source resistance, from the ripple"),
    "inrush_resistance_mohm": say("Source resistance, from the inrush"),
    "steady_resistance_mohm": say("Whole drop over mean current"),
}


@dataclass(frozen=True, slots=True)
class StarterTable:
    """All that a page says about starter and battery.

    Parameters
    ----------
    rows
        Figures that are known.
    missing
        What is not known, and why.
    as_shown, probes
        What all the figures, and what the resistances mean.
    """

    rows: tuple[StarterRow, ...]
    missing: tuple[Missing, ...]
    as_shown: Text = AS_SHOWN
    probes: Text = PROBES

    @property
    def has_resistance(self) -> bool:
        """Whether one of the rows is a resistance."""
        return any(r.figure.endswith("_mohm") for r in self.rows)

    @property
    def outside(self) -> tuple[StarterRow, ...]:
        """Rows outside the typical range, which say what to check next."""
        return tuple(r for r in self.rows if r.note and r.note.remedy)

    @property
    def compared(self) -> tuple[StarterRow, ...]:
        """Rows with typical figures beside them."""
        return tuple(r for r in self.rows if r.note)


_COMPARED = (
    "mean_current_a",
    "cranking_rpm",
    "inrush_peak_a",
    "mean_cranking_v",
    "ripple_resistance_mohm",
)


def starter_table(figures: StarterFigures) -> StarterTable:
    """Return what a page shows of starter figures."""
    return StarterTable(starter_rows(figures), starter_missing(figures))


@dataclass(frozen=True, slots=True)
class StarterPair:
    """One figure of two cranks, in words; a dash where one is not known."""

    label: str
    before: str
    after: str


def starter_pairs(
    before: StarterFigures | None, after: StarterFigures | None
) -> tuple[StarterPair, ...]:
    """Lay two cranks' figures side by side, those that one of them has."""
    one, other = (
        {row.figure: row.text for row in starter_rows(f)} if f else {} for f in (before, after)
    )
    return tuple(
        StarterPair(str(_LABELS[name]), one.get(name, "–"), other.get(name, "–"))
        for name in _COMPARED
        if name in one or name in other
    )


def starter_line(figures: StarterFigures) -> str:
    """Return the main figures in one line, for papers; empty where none is known."""
    parts = []
    if figures.cranking_rpm is not None:
        parts.append(f"{figures.cranking_rpm:.0f} rpm")
    if figures.mean_current_a is not None:
        parts.append(_("{amps:.0f} A on the mean").format(amps=figures.mean_current_a))
    if figures.inrush_peak_a is not None:
        inrush = _("inrush {amps:.0f} A")
        if "inrush_peak_a" in figures.limited:
            inrush = _("inrush at least {amps:.0f} A")
        parts.append(inrush.format(amps=figures.inrush_peak_a))
    if figures.mean_cranking_v is not None:
        parts.append(_("{volts:.1f} V while cranking").format(volts=figures.mean_cranking_v))
    return ", ".join(parts)


def starter_rows(figures: StarterFigures) -> tuple[StarterRow, ...]:
    """Return the figures that are known, in the order of a crank."""
    notes = {n.figure: n for n in figures.notes}
    return tuple(
        StarterRow(
            name,
            str(label),
            _text(name, figures),
            str(figures.limited.get(name, NOTHING)),
            notes.get(name),
        )
        for name, label in _LABELS.items()
        if getattr(figures, name) is not None
    )


def starter_missing(figures: StarterFigures) -> tuple[Missing, ...]:
    """Return what is not known, those with the same reason together."""
    reasons: dict[Text, list[str]] = {}
    for name, label in _LABELS.items():
        if name in figures.not_known:
            reasons.setdefault(figures.not_known[name], []).append(str(label))
    return tuple(Missing(tuple(labels), str(why)) for why, labels in reasons.items())


def _text(name: str, figures: StarterFigures) -> str:
    value: float = getattr(figures, name)
    if name == "trend_rpm_per_s":
        low, high = figures.trend_low_rpm_per_s, figures.trend_high_rpm_per_s
        return _("{value:+.1f} rpm a second ({low:+.1f} to {high:+.1f})").format(
            value=value, low=low, high=high
        )
    if name == "mean_current_a" and figures.whole_cycles:
        return _("{amps:.0f} A over {cycles} engine cycles").format(
            amps=value, cycles=figures.whole_cycles
        )
    if name == "inrush_peak_a":
        inrush = _("{amps:.0f} A at {at_s:.3f} s")
        if name in figures.limited:
            inrush = _("at least {amps:.0f} A at {at_s:.3f} s")
        return inrush.format(amps=value, at_s=figures.inrush_at_s)
    if name.endswith("_mohm"):
        return _milliohm(value, getattr(figures, name.replace("_mohm", "_error_mohm"), None))
    units = {"_a": "{:.0f} A", "_v": "{:.2f} V", "_rpm": "{:.0f} rpm", "_s": "{:.2f} s"}
    unit = next(unit for end, unit in units.items() if name.endswith(end))
    return written(unit.format(value))


def _milliohm(value: float, error: float | None) -> str:
    if error is None:
        return _("{value:.1f} milliohm").format(value=value)
    digits = 1 if error >= 0.1 else 2
    return _("{value} ± {error} milliohm").format(
        value=f"{value:.{digits}f}", error=f"{error:.{digits}f}"
    )
