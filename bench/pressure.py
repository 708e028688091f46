"""One cylinder's pressure on simulated engines: dead centre, cams, back pressure, leaks.

`python -m bench.pressure` measures sound engines of drawn shape, five transducers of unknown
offset, recorders of 8 to 16 bits and 2 to 200 kHz, cranking and running, with and without a rest
in the recording; then the same engines with a cam moved, a blocked exhaust, or a leak. The same
seeds give the same figures; `--held-out` takes others.
"""

import argparse
import os
import sys
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from traces.core.compression import Geometry
from traces.core.pressure import Measured, PressureError, PressureInput, measure
from traces.core.pressure_compared import beside_known_good
from traces.core.report import Interval
from traces.simulator.pressure import (
    SCALES_KPA_PER_V,
    PressureCase,
    PressureState,
    draw_pressure,
    pressure_capture,
)

_FIRST, _FIRST_HELD_OUT = 30_000, 97_000
_STATES: tuple[PressureState, ...] = ("cranking", "running")
_CAMS_DEG = (-12.0, -7.0, 7.0, 12.0)
_BACK_KPA = (25.0, 45.0, 80.0)
TDC, PEAK, LOSS = "top dead centre, degrees", "peak, per cent", "loss angle, degrees"
INTAKE, EXHAUST = "intake cam, degrees", "exhaust cam, degrees"
BACK, LEAKS = "back pressure, per cent", "leaks in order"
_AIMS = {TDC: 1.5, PEAK: 2.0, INTAKE: 3.0, EXHAUST: 3.0, BACK: 10.0}
_LEAKS_M2 = (0.0, 5e-7, 1.2e-6, 2.5e-6)


@dataclass(frozen=True, slots=True)
class _Drawn:
    """An engine with its recording's circumstances."""

    case: PressureCase
    known: bool
    recording: str
    told: str

    def measured(self, case: PressureCase) -> Measured:
        """Return what the analysis makes of this engine with something changed."""
        return measured(case, ratio_known=self.known)


@dataclass(frozen=True, slots=True)
class Row:
    """One measurement against its truth."""

    group: tuple[str, str]
    error: float | None
    inside: bool | None
    told: str
    why: str = ""


def known_of(case: PressureCase, *, ratio_known: bool) -> PressureInput:
    """Return what a person would enter: scale, cylinders, and perhaps the ratio."""
    ratio = case.compression_ratio if ratio_known else 10.5
    return PressureInput(
        case.transducer.kpa_per_v,
        Geometry(ratio, cylinders=case.swings, is_known=ratio_known),
        air_kpa=case.air_kpa if ratio_known else 101.3,
        is_air_known=ratio_known,
    )


def measured(case: PressureCase, *, ratio_known: bool) -> Measured:
    """Return what the analysis makes of a case's recording."""
    capture = pressure_capture(case)
    values = capture.waveform.channels[0].values.astype(np.float64)
    return measure(values, case.rate_hz, known_of(case, ratio_known=ratio_known))


def main(arguments: list[str]) -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=6, help="engines for each transducer and state")
    parser.add_argument("--held-out", action="store_true", help="other seeds, kept aside")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    parser.add_argument("--wrong", action="store_true", help="name what missed its aim")
    chosen, _ = parser.parse_known_args(arguments)
    groups: dict[tuple[str, str], list[Row]] = defaultdict(list)
    with ProcessPoolExecutor(chosen.jobs) as pool:
        first = _FIRST_HELD_OUT if chosen.held_out else _FIRST
        for rows in pool.map(_rows, _drawn(first, chosen.each), chunksize=2):
            for row in rows:
                groups[row.group].append(row)
    _say(
        "| what | recording | measured | RMS error | within the aim | truth in interval |\n"
        "| --- | --- | --- | --- | --- | --- |"
    )
    for group in sorted(groups):
        _say(_line(group, groups[group]))
    if chosen.wrong:
        for group, rows in groups.items():
            for row in rows:
                if row.error is None or abs(row.error) > _AIMS.get(group[0], 0.5):
                    _say(f"{group}: {row.told}: {row.error} {row.why}")


def _drawn(first: int, each: int) -> Iterator[tuple[int, PressureState, int]]:
    seed = first
    for state in _STATES:
        for scale in range(len(SCALES_KPA_PER_V)):
            for _ in range(each):
                seed += 1
                yield seed, state, scale


def _rows(drawn: tuple[int, PressureState, int]) -> list[Row]:
    seed, state, scale = drawn
    rng = np.random.default_rng((seed, 72))
    case = draw_pressure(seed, state, scale)
    # an engine is at rest before it cranks; a running one was recorded from its start, switched
    # off at the end, or neither
    known = bool(rng.random() < 0.5)
    rests = bool(rng.random() < 0.7)
    case = replace(case, rest_s=1.0 if rests else 0.0, stops=case.stops and rests)
    recording = f"{state}, {'with' if rests else 'without'} rest"
    sensor = case.transducer
    told = (
        f"seed {seed}, {case.swings} cylinders, {case.rpm:.0f} rpm, {sensor.kpa_per_v:g} kPa/V, "
        f"{sensor.bits} bits, {case.rate_hz:g} Hz, ratio {'known' if known else 'not known'}"
    )
    drawn_case = _Drawn(case, known, recording, told)
    try:
        good = drawn_case.measured(case)
    except PressureError as refused:
        return [Row(("refused, sound", recording), None, None, told, refused.trouble)]
    return [
        *_sound(drawn_case, good),
        *_cams(drawn_case, good, rng),
        _blocked(drawn_case, rng),
        _leaks(drawn_case),
    ]


def _sound(drawn: _Drawn, good: Measured) -> list[Row]:
    truth = pressure_capture(drawn.case).truth
    off_deg = [
        float(t - truth.tdc_s[np.argmin(np.abs(truth.tdc_s - t))]) * drawn.case.rpm * 6
        for t in good.tdc_s[1:-1]
    ]
    loss, peak = good.figures.loss_deg, good.figures.peak_kpa
    rows = [
        Row((TDC, drawn.recording), float(np.median(off_deg)), None, drawn.told),
        Row(
            (PEAK, drawn.recording),
            100 * (peak.value / truth.peak_kpa - 1),
            peak.low <= truth.peak_kpa <= peak.high,
            drawn.told,
        ),
    ]
    if loss is not None:
        off = loss.value - truth.loss_deg
        inside = loss.low <= truth.loss_deg <= loss.high
        rows.append(Row((LOSS, drawn.recording), off, inside, drawn.told))
    return rows


def _cams(drawn: _Drawn, good: Measured, rng: np.random.Generator) -> list[Row]:
    rows = []
    for cam in ("intake", "exhaust"):
        late = float(rng.choice(_CAMS_DEG))
        moved = replace(
            drawn.case,
            seed=drawn.case.seed + 500_000,
            timing=drawn.case.timing.shifted(**{f"{cam}_deg": late}),
            rpm=drawn.case.rpm * rng.uniform(0.95, 1.05),
        )
        group = (INTAKE if cam == "intake" else EXHAUST, drawn.recording)
        told = f"{drawn.told}, {cam} {late:+g}"
        try:
            beside = beside_known_good(drawn.measured(moved).figures, good.figures, "good")
        except PressureError as refused:
            rows.append(Row(group, None, None, told, refused.trouble))
            continue
        if beside is None:
            raise ValueError("both were recorded in the same state")
        found = beside.intake_cam_deg if cam == "intake" else beside.exhaust_cam_deg
        rows.append(_against(group, found, late, told))
    return rows


def _against(group: tuple[str, str], found: Interval | None, truth: float, told: str) -> Row:
    if found is None:
        return Row(group, None, None, told, "not shown")
    per = 100 / truth if group[0] == BACK else 1.0
    return Row(group, (found.value - truth) * per, found.low <= truth <= found.high, told)


def _blocked(drawn: _Drawn, rng: np.random.Generator) -> Row:
    back = float(rng.choice(_BACK_KPA))
    case = drawn.case
    blocked = replace(case, seed=case.seed + 600_000, exhaust_kpa=case.air_kpa + back)
    truth = pressure_capture(blocked).truth.back_kpa
    group, told = (BACK, drawn.recording), f"{drawn.told}, {back:g} kPa"
    try:
        figures = drawn.measured(blocked).figures
    except PressureError as refused:
        return Row(group, None, None, told, refused.trouble)
    return _against(group, figures.back_pressure_kpa, truth, told)


def _leaks(drawn: _Drawn) -> Row:
    """Return whether four leaks of one engine are ranked as they are."""
    losses = []
    group = (LEAKS, drawn.recording)
    for i, leak in enumerate(_LEAKS_M2):
        path = ("exhaust_leak_m2", "intake_leak_m2", "ring_leak_m2")[i % 3]
        openings = {path: leak + getattr(drawn.case, path)}
        leaky = replace(drawn.case, seed=drawn.case.seed + 700_000 + i, **openings)
        try:
            loss = drawn.measured(leaky).figures.loss_per_s
        except PressureError as refused:
            return Row(group, None, None, drawn.told, refused.trouble)
        losses.append(np.nan if loss is None else loss.value)
    words = ", ".join(f"{loss:.1f}" for loss in losses)
    wrong = not bool(np.all(np.diff(losses) > 0))
    return Row(group, float(wrong), None, f"{drawn.told}: {words}")


def _line(group: tuple[str, str], rows: list[Row]) -> str:
    errors = np.array([row.error for row in rows if row.error is not None])
    why = sorted({row.why for row in rows if row.why})
    cells = [*group, f"{errors.size} of {len(rows)}" + (f" ({', '.join(why)})" if why else "")]
    if errors.size == 0:
        return f"| {' | '.join([*cells, '-', '-', '-'])} |"
    if group[0] == LEAKS:
        cells += ["-", f"{int((errors == 0).sum())} of {errors.size}", "-"]
        return f"| {' | '.join(cells)} |"
    aim = _AIMS.get(group[0])
    within = "-" if aim is None else f"{int((np.abs(errors) <= aim).sum())} of {errors.size}"
    inside = [row.inside for row in rows if row.inside is not None]
    share = f"{np.mean(inside):.0%}" if inside else "-"
    cells += [f"{np.sqrt(np.mean(errors**2)):.2f}", within, share]
    return f"| {' | '.join(cells)} |"


def _say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1:])
