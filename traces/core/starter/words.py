"""Starter figures in plain words, the same at the terminal, on pages and on paper."""

from dataclasses import dataclass

from traces.core.report import StarterFigures, StarterNote

PROBES = (
    "Resistance of all that lies before the points where the voltage was measured: with the "
    "probe on the terminals the battery's own, further on cables and joints too."
)
AS_SHOWN = (
    "As clamp and probe show them: their own scale errors come on top, and a slow clamp or one "
    "past its rating shows a lower inrush."
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
    "inrush_peak_a": "Inrush peak",
    "run_up_s": "Run-up",
    "mean_current_a": "Mean cranking current",
    "cranking_rpm": "Cranking speed",
    "trend_rpm_per_s": "Trend of the speed",
    "rest_v": "Voltage before the crank",
    "inrush_minimum_v": "Lowest voltage at the inrush",
    "mean_cranking_v": "Mean voltage while cranking",
    "recovered_v": "Voltage after the crank",
    "open_circuit_drop_v": "Lower than before by",
    "ripple_resistance_mohm": "Source resistance, from the ripple",
    "inrush_resistance_mohm": "Source resistance, from the inrush",
    "steady_resistance_mohm": "Whole drop over mean current",
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
    as_shown: str = AS_SHOWN
    probes: str = PROBES

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
        StarterPair(_LABELS[name], one.get(name, "–"), other.get(name, "–"))
        for name in _COMPARED
        if name in one or name in other
    )


def starter_line(figures: StarterFigures) -> str:
    """Return the main figures in one line, for papers; empty where none is known."""
    parts = []
    if figures.cranking_rpm is not None:
        parts.append(f"{figures.cranking_rpm:.0f} rpm")
    if figures.mean_current_a is not None:
        parts.append(f"{figures.mean_current_a:.0f} A on the mean")
    if figures.inrush_peak_a is not None:
        at_least = "at least " if "inrush_peak_a" in figures.limited else ""
        parts.append(f"inrush {at_least}{figures.inrush_peak_a:.0f} A")
    if figures.mean_cranking_v is not None:
        parts.append(f"{figures.mean_cranking_v:.1f} V while cranking")
    return ", ".join(parts)


def starter_rows(figures: StarterFigures) -> tuple[StarterRow, ...]:
    """Return the figures that are known, in the order of a crank."""
    notes = {n.figure: n for n in figures.notes}
    return tuple(
        StarterRow(
            name, label, _text(name, figures), figures.limited.get(name, ""), notes.get(name)
        )
        for name, label in _LABELS.items()
        if getattr(figures, name) is not None
    )


def starter_missing(figures: StarterFigures) -> tuple[Missing, ...]:
    """Return what is not known, those with the same reason together."""
    reasons: dict[str, list[str]] = {}
    for name, label in _LABELS.items():
        if name in figures.not_known:
            reasons.setdefault(figures.not_known[name], []).append(label)
    return tuple(Missing(tuple(labels), why) for why, labels in reasons.items())


def _text(name: str, figures: StarterFigures) -> str:
    value: float = getattr(figures, name)
    if name == "trend_rpm_per_s":
        low, high = figures.trend_low_rpm_per_s, figures.trend_high_rpm_per_s
        return f"{value:+.1f} rpm a second ({low:+.1f} to {high:+.1f})"
    if name == "mean_current_a":
        over = f" over {figures.whole_cycles} engine cycles" if figures.whole_cycles else ""
        return f"{value:.0f} A{over}"
    if name == "inrush_peak_a":
        at_least = "at least " if name in figures.limited else ""
        return f"{at_least}{value:.0f} A at {figures.inrush_at_s:.3f} s"
    if name.endswith("_mohm"):
        return _milliohm(value, getattr(figures, name.replace("_mohm", "_error_mohm"), None))
    if name.endswith("_v"):
        return f"{value:.2f} V"
    return f"{value:.0f} rpm" if name.endswith("_rpm") else f"{value:.2f} s"


def _milliohm(value: float, error: float | None) -> str:
    if error is None:
        return f"{value:.1f} milliohm"
    digits = 1 if error >= 0.1 else 2
    return f"{value:.{digits}f} ± {error:.{digits}f} milliohm"
