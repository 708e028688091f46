"""Cylinders whose pressure was measured in turn: which leak, in what order, and how sure that is.

Peak and loss compare cylinders that were measured alike; back pressure and cam timing are the whole
engine's, or a bank's. All common practice.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from jobs.core.balances import Balance
from jobs.core.request import named
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import ngettext
from traces.core.report import Estimate, Interval

_SAME_SPEED = 0.1
_REPEATS = 0.08
"""Peaks of one cylinder that differ by more are not of one state (our own estimate)."""


class InTurn(StrEnum):
    """What pressures in the cylinders amount to."""

    DISAGREE = "disagree"
    LEAK = "leak"
    LOW = "low"
    WATCH = "watch"
    EXHAUST = "exhaust"
    CAM = "cam"
    COMES_AND_GOES = "comes-and-goes"
    CONTRADICTION = "contradiction"
    CONDITIONS = "conditions"
    CLEARED = "cleared"
    ALIKE = "alike"
    ALONE = "alone"


DOUBTFUL = frozenset({InTurn.DISAGREE, InTurn.CONTRADICTION, InTurn.CONDITIONS, InTurn.WATCH})
FAULTS = frozenset({InTurn.LEAK, InTurn.LOW, InTurn.EXHAUST, InTurn.CAM, InTurn.COMES_AND_GOES})


@dataclass(frozen=True, slots=True)
class CylinderMeasured:
    """One cylinder's pressure.

    Parameters
    ----------
    peak_kpa, rpm
        Of its newest capture.
    loss_per_s
        Relative loss of pressure a second about top dead centre; None where it does not show.
    share
        Its peak over that of the good ones; None where only one was measured.
    is_leaking, comes_and_goes
        Whether its own capture says so.
    held_kpa, back_kpa
        What the exhaust holds back; the second only where that is more than usual.
    intake_cam_deg, exhaust_cam_deg
        How much later the cams are than in a known-good capture, where that is told apart.
    other_peaks_kpa
        Of earlier captures of the same cylinder in the same state.
    """

    cylinder: int
    peak_kpa: float
    rpm: float
    loss_per_s: Interval | None = None
    share: Estimate | None = None
    is_leaking: bool = False
    comes_and_goes: bool = False
    held_kpa: Interval | None = None
    back_kpa: Interval | None = None
    intake_cam_deg: Interval | None = None
    exhaust_cam_deg: Interval | None = None
    other_peaks_kpa: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class InTurnLine:
    """One sentence and what to do, about the cylinders it names."""

    kind: InTurn
    cylinders: tuple[int, ...]
    words: str
    remedy: str = ""

    @property
    def is_doubtful(self) -> bool:
        """Whether it speaks against taking the figures as they are."""
        return self.kind in DOUBTFUL


def in_turn_lines(
    measured: Sequence[CylinderMeasured],
    engine_cylinders: int,
    cranking: Balance | None,
    before: Sequence[CylinderMeasured] = (),
) -> tuple[InTurnLine, ...]:
    """Return what the cylinders measured say together, what is to be minded first in front.

    Parameters
    ----------
    engine_cylinders
        How many the engine has; 0 where that is not known.
    cranking
        What the cranking test says; None where none was judged.
    before
        What was measured before the repair, where this was measured after it.
    """
    lines = [
        *_disagreeing(measured),
        *_leaks(measured),
        *_of_the_engine(measured),
        *_speeds(measured),
        *_contradicted(measured, cranking),
    ]
    if any(line.kind in FAULTS | {InTurn.WATCH} for line in lines):
        return tuple(lines)
    cleared = _cleared(measured, before)
    return (*lines, *(cleared or _nothing_found(measured, engine_cylinders)))


def leak_order(measured: Sequence[CylinderMeasured]) -> tuple[tuple[int, bool], ...]:
    """Return cylinders by their loss, the greatest first, each with whether its place is sure.

    It is where its interval does not reach into that of the one after it.
    """
    known = [(m.cylinder, m.loss_per_s) for m in measured if m.loss_per_s is not None]
    falling = sorted(known, key=lambda one: -one[1].value)
    found = []
    for i, (cylinder, loss) in enumerate(falling):
        after = falling[i + 1][1] if i + 1 < len(falling) else None
        found.append((cylinder, after is None or loss.low > after.high))
    return tuple(found)


def _disagreeing(measured: Sequence[CylinderMeasured]) -> list[InTurnLine]:
    lines = []
    for one in measured:
        peaks = [*one.other_peaks_kpa, one.peak_kpa]
        if max(peaks) > (1 + _REPEATS) * min(peaks):
            words = _("The captures of cylinder {number} differ: {low} to {high} kPa.").format(
                number=one.cylinder, low=f"{min(peaks):.0f}", high=f"{max(peaks):.0f}"
            )
            remedy = _("The newest counts. Set aside what was recorded otherwise, or record anew.")
            lines.append(InTurnLine(InTurn.DISAGREE, (one.cylinder,), words, remedy))
    return lines


def _leaks(measured: Sequence[CylinderMeasured]) -> list[InTurnLine]:
    lines = []
    low = [m for m in measured if m.share is not None and m.share.call == "suspect"]
    leaking = [m for m in measured if m.is_leaking or (m in low and _loses_most(m, measured))]
    if leaking:
        numbers = tuple(m.cylinder for m in leaking)
        words = ngettext("{which} leaks: {figures}.", "{which} leak: {figures}.", len(numbers))
        words = words.format(which=_capital(named(numbers)), figures=_figures(leaking))
        remedy = _(
            "Find where the gas goes with a leak-down test before any part comes off: valve, "
            "rings, gasket or coolant."
        )
        lines.append(InTurnLine(InTurn.LEAK, numbers, words, remedy))
    if empty := [m for m in low if m not in leaking]:
        numbers = tuple(m.cylinder for m in empty)
        words = ngettext(
            "{which} compresses less and loses no more than the others: {figures}.",
            "{which} compress less and lose no more than the others: {figures}.",
            len(numbers),
        )
        words = words.format(which=_capital(named(numbers)), figures=_figures(empty))
        remedy = _("Less gets in: check valve lift and clearance, the lobe, and the intake there.")
        lines.append(InTurnLine(InTurn.LOW, numbers, words, remedy))
    watched = [m for m in measured if m.share is not None and m.share.call == "watch"]
    if watched := [m for m in watched if m not in leaking]:
        numbers = tuple(m.cylinder for m in watched)
        words = _("{which} between weak and good: {figures}.").format(
            which=_capital(named(numbers)), figures=_figures(watched)
        )
        remedy = _("Measure again, one after another, with the battery charged.")
        lines.append(InTurnLine(InTurn.WATCH, numbers, words, remedy))
    return lines


def _of_the_engine(measured: Sequence[CylinderMeasured]) -> list[InTurnLine]:
    lines = []
    blocked = [m for m in measured if m.back_kpa is not None]
    if blocked:
        most = max((m.back_kpa for m in blocked if m.back_kpa), key=lambda back: back.value)
        words = _(
            "The exhaust holds back {kpa} kPa ({low} to {high}), measured in {which}."
        ).format(
            kpa=f"{most.value:.0f}",
            low=f"{most.low:.0f}",
            high=f"{most.high:.0f}",
            which=named([m.cylinder for m in blocked]),
        )
        remedy = _(
            "Confirm it with a back pressure test at the exhaust, and find the place: catalyst, "
            "filter, silencer or a crushed pipe. Let it cool down first."
        )
        numbers = tuple(m.cylinder for m in blocked)
        lines.append(InTurnLine(InTurn.EXHAUST, numbers, words, remedy))
    for valve, moved in (
        (_("intake"), [(m.cylinder, m.intake_cam_deg) for m in measured if m.intake_cam_deg]),
        (_("exhaust"), [(m.cylinder, m.exhaust_cam_deg) for m in measured if m.exhaust_cam_deg]),
    ):
        for cylinder, deg in moved[:1]:
            lines.append(_cam_line(valve, cylinder, deg))
    fitful = tuple(m.cylinder for m in measured if m.comes_and_goes)
    if fitful:
        words = _("The compressions of {which} differ from cycle to cycle.").format(
            which=named(fitful)
        )
        remedy = _("Look for a valve that hangs or a lifter that bleeds down.")
        lines.append(InTurnLine(InTurn.COMES_AND_GOES, fitful, words, remedy))
    return lines


def _cam_line(valve: str, cylinder: int, deg: Interval | None) -> InTurnLine:
    assert deg is not None  # noqa: S101 - only those told apart are handed in
    form = (
        _("The {valve} valves are {deg}° ({low} to {high}) later than in the known-good capture.")
        if deg.value > 0
        else _(
            "The {valve} valves are {deg}° ({low} to {high}) earlier than in the known-good "
            "capture."
        )
    )
    ends = sorted((abs(deg.low), abs(deg.high)))
    words = form.format(
        valve=valve, deg=f"{abs(deg.value):.0f}", low=f"{ends[0]:.0f}", high=f"{ends[1]:.0f}"
    )
    remedy = _(
        "Check the timing marks of crank and cam, tensioner and adjuster, by the manufacturer's "
        "procedure, before the engine is cranked again."
    )
    return InTurnLine(InTurn.CAM, (cylinder,), words, remedy)


def _speeds(measured: Sequence[CylinderMeasured]) -> list[InTurnLine]:
    speeds = [m.rpm for m in measured]
    if not speeds or max(speeds) <= (1 + _SAME_SPEED) * min(speeds):
        return []
    words = _("The cylinders were measured at {low} to {high} rpm.").format(
        low=f"{min(speeds):.0f}", high=f"{max(speeds):.0f}"
    )
    remedy = _("Pressures differ by that alone: measure one after another, battery charged.")
    return [InTurnLine(InTurn.CONDITIONS, (), words, remedy)]


def _contradicted(
    measured: Sequence[CylinderMeasured], cranking: Balance | None
) -> list[InTurnLine]:
    """Return where a cranking test and the pressures name other cylinders."""
    if cranking is None or not cranking.is_judged or not cranking.is_settled:
        return []
    sound = {m.cylinder for m in measured if m.share is not None and m.share.call == "sound"}
    weak = {m.cylinder for m in measured if m.share is not None and m.share.call == "suspect"}
    lines = []
    if odd := tuple(sorted(set(cranking.weak) & sound)):
        words = _("{which}: weak while cranking, but its pressure is that of the others.").format(
            which=_capital(named(odd))
        )
        lines.append(InTurnLine(InTurn.CONTRADICTION, odd, words, _check_both()))
    if odd := tuple(sorted(weak - set(cranking.weak) - set(cranking.watch))):
        words = _("{which}: low pressure in the cylinder, but not weak while cranking.").format(
            which=_capital(named(odd))
        )
        lines.append(InTurnLine(InTurn.CONTRADICTION, odd, words, _check_both()))
    return lines


def _check_both() -> str:
    return _("Check the sync's cylinder, and in which cylinder the transducer sat.")


def _cleared(
    measured: Sequence[CylinderMeasured], before: Sequence[CylinderMeasured]
) -> list[InTurnLine]:
    """Return what was found before the repair and is gone after it, with both figures."""
    lines = []
    numbers = tuple(m.cylinder for m in measured)
    were = [m.held_kpa.value for m in before if m.back_kpa is not None and m.held_kpa]
    now = [m.held_kpa.value for m in measured if m.held_kpa is not None]
    if were and now:
        words = _("The exhaust holds back {now} kPa; before the repair it held back {was} kPa.")
        words = words.format(now=f"{max(0.0, *now):.0f}", was=f"{max(were):.0f}")
        lines.append(InTurnLine(InTurn.CLEARED, numbers, words))
    for was in before:
        again = next((m for m in measured if m.cylinder == was.cylinder), None)
        if again is None or not (was.is_leaking or (was.share and was.share.call == "suspect")):
            continue
        words = _("Cylinder {number} reaches {now} kPa; before the repair it reached {was} kPa.")
        words = words.format(
            number=was.cylinder, now=f"{again.peak_kpa:.0f}", was=f"{was.peak_kpa:.0f}"
        )
        lines.append(InTurnLine(InTurn.CLEARED, (was.cylinder,), words))
    return lines


def _nothing_found(measured: Sequence[CylinderMeasured], engine_cylinders: int) -> list[InTurnLine]:
    numbers = tuple(m.cylinder for m in measured)
    if len(numbers) == 1:
        words = _("Only {which} was measured: there is nothing to compare it with.").format(
            which=named(numbers)
        )
        remedy = _("Measure another cylinder in the same way, or keep a known-good capture.")
        return [InTurnLine(InTurn.ALONE, numbers, words, remedy)]
    words = _("{which} compress alike.").format(which=_capital(named(numbers)))
    rest = engine_cylinders - len(numbers)
    remedy = (
        ngettext(
            "{count} cylinder is not measured.", "{count} cylinders are not measured.", rest
        ).format(count=rest)
        if rest > 0
        else ""
    )
    return [InTurnLine(InTurn.ALIKE, numbers, words, remedy)]


def _loses_most(one: CylinderMeasured, measured: Sequence[CylinderMeasured]) -> bool:
    """Return whether a cylinder surely loses more than every one that is not low."""
    loss = one.loss_per_s
    others = [m.loss_per_s for m in measured if m.share is not None and m.share.call == "sound"]
    return loss is not None and all(o is None or loss.low > o.high for o in others)


def _figures(measured: Sequence[CylinderMeasured]) -> str:
    found = []
    for one in measured:
        if one.share is None:
            found.append(_("peak {kpa} kPa").format(kpa=f"{one.peak_kpa:.0f}"))
            continue
        found.append(
            # a share, no directive; xgettext:no-python-format
            _("{percent} % of the others ({low} to {high})").format(
                percent=f"{100 * one.share.relative:.0f}",
                low=f"{100 * one.share.low:.0f}",
                high=f"{100 * one.share.high:.0f}",
            )
        )
    return ", ".join(found).replace(" %", "\N{NO-BREAK SPACE}%")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
