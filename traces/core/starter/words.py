"""Starter figures in plain words, the same at the terminal, on pages and on paper."""

from dataclasses import dataclass

from traces.core.starter.figures import StarterFigures, StarterNote

PROBES = (
    "Resistance of all that lies before the points where the voltage was measured: with the "
    "probe on the posts the battery's own, further on cables and joints too."
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
        error = getattr(figures, name.replace("_mohm", "_error_mohm"), None)
        return f"{value:.1f} milliohm" + (f" ± {error:.1f}" if error is not None else "")
    if name.endswith("_v"):
        return f"{value:.2f} V"
    return f"{value:.0f} rpm" if name.endswith("_rpm") else f"{value:.2f} s"
