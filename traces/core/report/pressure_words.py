"""One cylinder's pressure in plain words: what was measured, and what stands out."""

from dataclasses import dataclass

from shopdiag.people.core.numerals import fillable
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import say
from traces.core.report.pressure_figures import Interval, PressureFigures
from traces.core.report.results import Report

PRESSURE_LIMITS = say(
    "One cylinder only, the one that the set-up names. What leaks, and whether a figure is good, "
    "shows beside the engine's other cylinders or a known-good capture. The peak is no gauge "
    "reading: adaptor and hose add to the volume."
)


@dataclass(frozen=True, slots=True)
class FigureRow:
    """One figure in words.

    Parameters
    ----------
    key
        Its name in the figures.
    label, value, interval
        Empty value where it does not show; the interval where there is one.
    """

    key: str
    label: str
    value: str
    interval: str = ""


def pressure_verdict(report: Report) -> str:
    """Return what a measured cylinder showed first, as one line."""
    figures = report.parts.pressure
    if figures is None:
        return _("Not judged")
    said = _lead(report, figures)
    if figures.cylinder is None:
        return said
    return _("Cylinder {number}: {said}").format(number=figures.cylinder, said=said)


def pressure_sentence(report: Report) -> str:
    """Return the same with peak and speed."""
    figures = report.parts.pressure
    if figures is None:
        return pressure_verdict(report)
    peak = figures.peak_kpa
    form = (
        _("{verdict}. Peak {peak} kPa ({low} to {high}), idling at {rpm} rpm")
        if figures.state == "running"
        else _("{verdict}. Peak {peak} kPa ({low} to {high}), cranked at {rpm} rpm")
    )
    return form.format(
        verdict=pressure_verdict(report),
        peak=f"{peak.value:.0f}",
        low=f"{peak.low:.0f}",
        high=f"{peak.high:.0f}",
        rpm=f"{figures.rpm:.0f}",
    ).replace(" kPa", "\N{NO-BREAK SPACE}kPa")


def is_noteworthy(report: Report) -> bool:
    """Return whether a measured cylinder shows something that no sound one does."""
    return any(f.code in _LEADS for f in report.findings)


_LEADS = ("leak", "back-pressure", "towers-unalike")


def _lead(report: Report, figures: PressureFigures) -> str:
    codes = {f.code for f in report.findings}
    back, loss = figures.back_pressure_kpa, figures.leg_loss_percent
    said = []
    if "leak" in codes and loss is not None:
        said.append(
            # a share, no directive; xgettext:no-python-format
            _("it leaks, expansion lacks {percent} %").format(percent=f"{loss.value:.0f}")
        )
    if "back-pressure" in codes and back is not None:
        said.append(_("the exhaust holds back {kpa} kPa").format(kpa=f"{back.value:.0f}"))
    if "towers-unalike" in codes:
        said.append(_("its compressions differ"))
    return "; ".join(said) if said else _("pressure measured")


def figure_rows(figures: PressureFigures) -> tuple[FigureRow, ...]:
    """Return all figures in words, those that are looked at first in front."""
    opens, closes = figures.exhaust_opens_deg, figures.intake_closes_deg
    alike = (
        _("alike, standard deviation {percent} %")
        if figures.towers == "alike"
        else _("not alike, standard deviation {percent} %")
    )
    alike = alike.format(percent=f"{figures.peak_spread_percent:.1f}")
    if figures.missed:
        alike = _("{alike}, {missed} missing").format(alike=alike, missed=figures.missed)
    return (
        _row("peak_kpa", _("Peak over the air"), figures.peak_kpa, _("{figure} kPa")),
        FigureRow("towers", _("Compressions"), alike),
        FigureRow(
            "rpm",
            _("Speed"),
            _("{rpm} rpm, {cycles} cycles").format(rpm=f"{figures.rpm:.0f}", cycles=figures.cycles),
        ),
        _row("loss_deg", _("Peak before top dead centre"), figures.loss_deg, "{figure}°", 1),
        _row(
            "leg_loss_percent",
            _("Expansion lacks, at the same volume"),
            figures.leg_loss_percent,
            "{figure} %",
            1,
        ),
        _row("loss_per_s", _("Loss about top dead centre"), figures.loss_per_s, "{figure} /s", 1),
        _row(
            "compression_exponent",
            _("Exponent of compression"),
            figures.compression_exponent,
            "{figure}",
            2,
        ),
        _row(
            "expansion_exponent",
            _("Exponent of expansion"),
            figures.expansion_exponent,
            "{figure}",
            2,
        ),
        _row(
            "exhaust_opens_deg",
            _("Exhaust opens before bottom dead centre"),
            _turned(opens, 180.0),
            "{figure}°",
        ),
        _row(
            "back_pressure_kpa",
            _("Exhaust stroke, mean"),
            figures.back_pressure_kpa,
            _("{figure} kPa"),
            1,
        ),
        _row(
            "back_pressure_high_kpa",
            _("Exhaust stroke, greatest"),
            figures.back_pressure_high_kpa,
            _("{figure} kPa"),
            1,
        ),
        _row(
            "exchange_deg",
            _("Middle of the fall from exhaust to intake"),
            figures.exchange_deg,
            "{figure}°",
        ),
        _row("intake_kpa", _("Intake stroke, mean"), figures.intake_kpa, _("{figure} kPa"), 1),
        _row(
            "intake_closes_deg",
            _("Intake closes after bottom dead centre"),
            _turned(closes, 540.0, sign=1),
            "{figure}°",
        ),
        _row(
            "pocket_kpa",
            _("Lowest before the exhaust opens"),
            figures.pocket_kpa,
            _("{figure} kPa"),
            1,
        ),
    )


def beside_rows(figures: PressureFigures) -> tuple[FigureRow, ...]:
    """Return what differs from the capture beside it; nothing without one."""
    beside = figures.beside
    if beside is None:
        return ()
    return (
        _later("intake_cam_deg", _("Intake cam"), beside.intake_cam_deg),
        _later("exhaust_cam_deg", _("Exhaust cam"), beside.exhaust_cam_deg),
        _row(
            "peak_share", _("Peak, share of the other"), _percent(beside.peak_share), "{figure} %"
        ),
        _row(
            "back_pressure_kpa",
            _("Exhaust stroke, higher by"),
            beside.back_pressure_kpa,
            _("{figure} kPa"),
            1,
        ),
        _row("intake_kpa", _("Intake stroke, higher by"), beside.intake_kpa, _("{figure} kPa"), 1),
        _row(
            "loss_share", _("Loss, share of the other"), _percent(beside.loss_share), "{figure} %"
        ),
    )


def cam_words(moved: Interval) -> str:
    """Return how a cam stands beside another capture: "10° late"."""
    if moved.low <= 0 <= moved.high:
        return _("not told apart")
    way = _("{deg}° later") if moved.value > 0 else _("{deg}° earlier")
    return way.format(deg=f"{abs(moved.value):.0f}")


def _later(key: str, label: str, moved: Interval | None) -> FigureRow:
    if moved is None:
        return FigureRow(key, label, "")
    row = _row(key, label, moved, "{figure}°")
    return FigureRow(key, label, cam_words(moved), row.interval)


def _row(key: str, label: str, figure: Interval | None, unit: str, digits: int = 0) -> FigureRow:
    if figure is None:
        return FigureRow(key, label, "")
    words = [f"{value:.{digits}f}" for value in (figure.value, figure.low, figure.high)]
    # a nought has no sign
    words = [w.removeprefix("-") if float(w) == 0 else w for w in words]
    value = fillable(unit).format(figure=words[0])
    interval = _("{low} to {high}").format(low=words[1], high=words[2])
    return FigureRow(key, label, value.replace(" ", "\N{NO-BREAK SPACE}"), interval)


def _turned(figure: Interval | None, bottom_deg: float, sign: int = -1) -> Interval | None:
    """Return an angle as people give it, from the bottom dead centre beside it."""
    if figure is None:
        return None
    ends = sorted(sign * (end - bottom_deg) for end in (figure.low, figure.high))
    return Interval(sign * (figure.value - bottom_deg), *ends)


def _percent(share: Interval | None) -> Interval | None:
    if share is None:
        return None
    return Interval(100 * share.value, max(0.0, 100 * share.low), 100 * share.high)
