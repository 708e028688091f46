"""What goes out of the house: a run's result, its recording as a table, and a case."""

import hashlib
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import IO, Any

from django.utils.text import slugify

from traces.core.case import (
    SUFFIX,
    Case,
    CaseChannel,
    Part,
    known_unit,
    moved,
    parts_of,
    start_kept_s,
    told_result,
    with_parts,
)
from traces.core.exports import span, table, write_case
from traces.core.report import Report, published
from traces.core.waveform import Channel, Waveform
from traces.models import Run
from traces.selectors.case_tests import tests_beside
from traces.selectors.samples import waveform_of

_AROUND_S = 1.0  # so that rest, inrush and end of the crank are in it
_IN_MEMORY_BYTES = 8 << 20
_NAME_LENGTH = 40


@dataclass(frozen=True, slots=True)
class WrittenCase:
    """A case as a file, at its beginning, and what to call it."""

    file: IO[bytes]
    name: str


def export_name(run: Run, what: str = "") -> str:
    """Return a name for a file of a run, without its ending."""
    capture = run.capture
    stem = slugify(str(capture).rsplit(".", 1)[0])[:_NAME_LENGTH].strip("-")
    return "-".join(filter(None, (stem or "capture", str(capture.pk), f"run{run.pk}", what)))


def run_result(run: Run) -> dict[str, Any] | None:
    """Return a run's result as the command line prints it; None where there is none yet."""
    if run.report is None:
        return None
    took = timedelta()
    if run.started_at and run.finished_at:
        took = run.finished_at - run.started_at
    return published(
        run.report,
        file=run.capture.original_name,
        signal=run.setup.analysis.signal,
        seconds=took / timedelta(seconds=1),
    )


def run_table(
    run: Run,
    *,
    numbers: Sequence[int] = (),
    from_s: float | None = None,
    to_s: float | None = None,
) -> Iterator[bytes]:
    """Return the samples that a run judged, as text with columns.

    Parameters
    ----------
    numbers
        Of the channels wanted, from 1; none for all.

    Raises
    ------
    EmptyStretchError
        If there are no samples in the stretch.
    LookupError
        If there is no channel of such a number.
    FileNotFoundError
        If the samples were taken away.
    """
    waveform = waveform_of(run.reading, run.setup.analysis)
    if any(not 1 <= n <= len(waveform.channels) for n in numbers):
        raise LookupError
    wanted = sorted(set(numbers)) or range(1, len(waveform.channels) + 1)
    channels = [waveform.channels[n - 1] for n in wanted]
    return table(waveform, channels, from_s=from_s, to_s=to_s)


def run_case(run: Run, part: Part) -> WrittenCase | None:
    """Return a run as one file without personal data; None where it has no result yet.

    Raises
    ------
    FileNotFoundError
        If the samples were taken away.
    """
    report = run.report
    if report is None:
        return None
    setup = run.setup.analysis
    waveform = waveform_of(run.reading, setup)
    used = _used(waveform, run)
    first, last = 0, waveform.samples
    stretch = crank_stretch(report)
    if part == "crank" and stretch is not None:
        first, last = span(waveform, *stretch)
    begun_s = waveform.t0_s + first / waveform.rate_hz
    by_s = start_kept_s(begun_s) - begun_s
    roles = parts_of(setup)
    case = Case(
        setup=moved(with_parts(setup), by_s),
        conditions=run.setup.conditions,
        layout=run.setup.engine.layout if run.setup.engine else "",
        channels=tuple(
            CaseChannel(role, known_unit(channel.unit))
            for role, channel in zip(roles, used, strict=True)
        ),
        read_as=str(run.reading.understood.get("format") or "recording"),
        rate_hz=waveform.rate_hz,
        start_s=begun_s + by_s,
        samples=last - first,
        full_scale=bool(run.reading.understood.get("full_scale")),
        part="crank" if last - first < waveform.samples else "whole",
        sha256="",
        code_version=run.code_version or "unknown",
        result=told_result(
            report, {c.name.casefold(): r for r, c in zip(roles, used, strict=True)}, by_s
        ),
        tests=tests_beside(run.capture),
    )
    # who answers with it closes it
    file = tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY_BYTES)  # noqa: SIM115
    written = write_case(file, case, [Channel(c.name, c.unit, c.values[first:last]) for c in used])
    file.seek(0)
    return WrittenCase(file, f"{_named_by(written)}{SUFFIX}")


def crank_stretch(report: Report) -> tuple[float, float] | None:
    """Return the crank with some rest around it; None where no end of it is known."""
    if report.judged_from_s is None or report.judged_to_s is None:
        return None
    begun_s = report.starter.start_s if report.starter else None
    from_s = report.judged_from_s if begun_s is None else min(begun_s, report.judged_from_s)
    return from_s - _AROUND_S, report.judged_to_s + _AROUND_S


def _used(waveform: Waveform, run: Run) -> list[Channel]:
    """Return the channels that the set-up names, in the order of a case."""
    setup = run.setup.analysis
    names = [setup.current_channel]
    if setup.sync:
        names.append(setup.sync.channel)
    if setup.voltage_channel:
        names.append(setup.voltage_channel)
    return [waveform.channel(name) for name in names]


def _named_by(case: Case) -> str:
    """Return a name that says nothing but which case it is."""
    setup = repr(case.manifest()["setup"]).encode()
    return f"case-{hashlib.sha256(case.sha256.encode() + setup).hexdigest()[:8]}"
