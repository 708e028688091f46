"""A visit's captures and what was signed about them, as a member of the shop sees them."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import cast

from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery
from django.utils.translation import gettext as _

from engines.core.layouts import Family
from engines.core.positions import Place, PositionError
from engines.models import Engine
from jobs.core.groups import (
    BANK_IN_TEST,
    EVEN_IN_TEST,
    HIGH_IN_TEST,
    NOT_TESTED,
    OPEN_IN_TEST,
    UNSURE_IN_TEST,
    WATCH_IN_TEST,
)
from jobs.core.request import named
from jobs.models import Judgement, Vehicle, Visit, VisitCapture
from traces.core.report import (
    Report,
    high_words,
    is_high,
    is_noteworthy,
    is_uncertain,
    standing_high,
    weaker_bank,
)
from traces.core.report import verdict_words as report_words
from traces.core.setup import Fuel
from traces.core.waveform import is_same_recording
from traces.models import COMPRESSIONS, IDLING, ONE_CYLINDER, Run, Work

ANY_CYLINDERS = range(1, 13)
"""What there is to choose from while the engine is not known."""


@dataclass(frozen=True, slots=True)
class CaptureRow:
    """One capture of a visit with its latest run, as lists show it."""

    tie: VisitCapture
    run: Run | None
    report: Report | None
    words: str
    kind: str
    """A badge's kind: plain, good, suspect or stop."""
    detail: str = ""
    """Which cylinders, where the verdict names some."""
    same_as: VisitCapture | None = None
    """The capture whose recording this file holds once more; it counts once."""


def as_counted(runs: QuerySet[Run]) -> QuerySet[Run]:
    """Leave out runs of another kind than their capture counts as now.

    A capture counts as of a cranked engine, of an idling one or of one cylinder's pressure by its
    newest set-up. What an earlier one of another kind found is no result of it any more, even while
    the newest has none.
    """
    purpose = "capture__visit_capture__purpose__in"
    return runs.filter(
        Q((purpose, VisitCapture.CRANKED)) & COMPRESSIONS
        | Q((purpose, VisitCapture.IDLING)) & IDLING
        | Q((purpose, VisitCapture.IN_CYLINDER)) & ONE_CYLINDER
    )


def visit_runs(visit: Visit) -> QuerySet[Run]:
    """Return the runs of a visit's captures that are of the kind they count as, newest first."""
    runs = Run.objects.filter(capture__visit_capture__visit=visit)
    return as_counted(runs).select_related("capture__visit_capture", "setup__engine")


def cranked_runs(visit: Visit) -> QuerySet[Run]:
    """Return the runs on captures of the cranked engine, newest first."""
    return visit_runs(visit).filter(capture__visit_capture__purpose__in=VisitCapture.CRANKED)


def latest_judgement(visit: Visit) -> Judgement | None:
    """Return what was signed last, which is what stands."""
    return (
        visit.judgements.select_related("run__setup__engine", "run__capture", "by__user")
        .order_by("-pk")
        .first()
    )


def capture_rows(
    visit: Visit, *, signed: Run | None = None, until: datetime | None = None
) -> tuple[CaptureRow, ...]:
    """Return the visit's captures in the order they came, each with its latest run.

    Parameters
    ----------
    signed
        A run that counts for its capture, whatever was analysed there since.
    until
        Runs that were done later do not count.
    """
    newest = as_counted(Run.objects.filter(capture_id=OuterRef("capture_id"))).order_by("-pk")
    if until is not None:
        newest = newest.filter(finished_at__lte=until)
    counts = Q(pk=Subquery(newest.values("pk")[:1]))
    if signed is not None:
        counts = Q(pk=signed.pk) | (counts & ~Q(capture_id=signed.capture_id))
    ties = visit.visit_captures.select_related(
        "capture__current_reading", "capture__uploaded_by__user"
    ).prefetch_related(
        Prefetch(
            "capture__runs",
            # One only: a result holds every hump and curve of its capture.
            Run.objects.filter(counts).select_related("setup__engine"),
        )
    )
    return _with_copies([_row(tie) for tie in ties], signed)


def _with_copies(rows: list[CaptureRow], signed: Run | None) -> tuple[CaptureRow, ...]:
    """Return rows that know whose recording they repeat; the signed one is nobody's copy."""
    judged = {
        row.tie.capture_id for row in rows if row.report and row.report.verdict != "not judged"
    }
    copies = copies_among(
        [row.tie for row in rows], judged, signed_capture=signed.capture_id if signed else None
    )
    return tuple(
        replace(
            row,
            same_as=copies[row.tie.pk],
            detail=_("the same recording as %(name)s, counted once")
            % {"name": copies[row.tie.pk].capture},
        )
        if row.tie.pk in copies
        else row
        for row in rows
    )


def copies_among(
    ties: Iterable[VisitCapture], judged: Collection[int], *, signed_capture: int | None = None
) -> dict[int, VisitCapture]:
    """Return which captures hold another's recording once more, whole or cut, and whose.

    Of one recording the signed capture counts; else one from before the repair, for it proves no
    repair; then one that is not set aside, one that is judged, the first.

    Parameters
    ----------
    ties
        With their captures and current readings.
    judged
        Ids of the captures that have a verdict.
    signed_capture
        The capture that was signed.
    """

    def turn(tie: VisitCapture) -> tuple[bool, bool, bool, bool, int]:
        return (
            tie.capture_id != signed_capture,
            tie.is_after_repair,
            tie.is_aside,
            tie.capture_id not in judged,
            tie.pk,
        )

    copies: dict[int, VisitCapture] = {}
    originals: list[VisitCapture] = []
    for tie in sorted(ties, key=turn):
        sketch = _sketch(tie)
        same = next((o for o in originals if is_same_recording(sketch, _sketch(o))), None)
        if same is None:
            originals.append(tie)
        else:
            copies[tie.pk] = same
    return copies


def _sketch(tie: VisitCapture) -> list[int]:
    reading = tie.capture.current_reading
    return reading.sketch if reading else []


def _row(tie: VisitCapture) -> CaptureRow:
    run = next(iter(tie.capture.runs.all()), None)
    if run is None and tie.capture.reading.state == Work.State.FAILED:
        return CaptureRow(tie, None, None, _("cannot be read"), "stop")
    if run is None:
        return CaptureRow(tie, None, None, _("not set up yet"), "plain")
    if run.state == Work.State.FAILED:
        return CaptureRow(tie, run, None, _("analysis failed"), "stop")
    report = run.report if run.state == Work.State.DONE else None
    if report is None:
        return CaptureRow(tie, run, None, run.get_state_display().lower(), "plain")
    words, kind, detail = verdict_words(report)
    return CaptureRow(tie, run, report, words, kind, detail)


def verdict_words(report: Report) -> tuple[str, str, str]:
    """Return a verdict in a word, the kind of badge it takes, and which cylinders it names."""
    if report.verdict == "not judged":
        return _("not judged"), "stop", ""
    if report.is_running:
        return _idling_words(report)
    if report.verdict == "measured":
        return _pressure_words(report)
    if report.verdict == "even":
        return _even_words(report)
    words, kind, low = _uneven_words(report)
    high = _("%(high)s high") % {"high": high_words(report)} if is_high(report) else ""
    return words, kind, ", ".join(part for part in (low, high) if part)


def _pressure_words(report: Report) -> tuple[str, str, str]:
    kind = "suspect" if is_noteworthy(report) else "plain"
    return _("measured"), kind, report_words(report)


def _idling_words(report: Report) -> tuple[str, str, str]:
    if report.verdict == "even":
        return _("even"), "good", ""
    sets = [c for c in report.candidates if c]
    if len(sets) > 2:
        return _("uneven"), "suspect", _("%(count)s sets of cylinders fit") % {"count": len(sets)}
    low = _("%(sets)s: less at idle") % {"sets": _(" or ").join(named(c) for c in sets)}
    return _("uneven"), "suspect", low


def _uneven_words(report: Report) -> tuple[str, str, str]:
    sets = [c for c in report.candidates if c]
    if len(sets) == 1:
        return _("uneven"), "suspect", _("%(sets)s low") % {"sets": named(sets[0])}
    if len(sets) > 2:
        return _("uneven"), "suspect", _("%(count)s sets of cylinders fit") % {"count": len(sets)}
    low = _("%(sets)s low") % {"sets": _(" or ").join(named(c) for c in sets)} if sets else ""
    return _("uneven"), "suspect", low


def _even_words(report: Report) -> tuple[str, str, str]:
    if is_high(report):
        return _("even"), "watch", _("but %(high)s high") % {"high": high_words(report)}
    if weaker := weaker_bank(report):
        return _("even"), "watch", _("but %(weaker)s is weaker") % {"weaker": weaker}
    if is_uncertain(report):
        return _("even"), "watch", _("as far as this recording can tell")
    if report.open_cylinder is not None:
        return (
            _("even"),
            "watch",
            _("cylinder %(open_cylinder)s not tested, its plug was out")
            % {"open_cylinder": report.open_cylinder},
        )
    if who := watched_words(report):
        return _("even"), "watch", _("but %(who)s to watch") % {"who": who}
    return _("even"), "good", ""


def watched_words(report: Report) -> str:
    """Return which cylinders are to be watched; empty for none."""
    watched = [e.cylinder for e in report.estimates if e.call == "watch"]
    known = [c for c in watched if c is not None]
    if not watched:
        return ""
    return named(known) if len(known) == len(watched) else _("one cylinder or more")


def bank_in_test(report: Report | None) -> str:
    """Return that one bank is weaker as a whole, on orders and to the customer; "" where not."""
    return _(BANK_IN_TEST) if report is not None and weaker_bank(report) else ""


def even_in_test(report: Report | None) -> str:
    """Return what an even verdict says of the engine, on orders and to the customer."""
    if report is None:
        return _(EVEN_IN_TEST)
    beside = beside_in_test(report)
    noticed = [beside] if beside else []
    who = watched_words(report)
    if who and not noticed:
        noticed.append(_(WATCH_IN_TEST).format(cylinders=who))
    if report.open_cylinder is not None:
        not_tested = NOT_TESTED if noticed else OPEN_IN_TEST
        noticed.append(_(not_tested).format(cylinder=report.open_cylinder))
    elif is_uncertain(report) and not noticed:
        noticed.append(_(UNSURE_IN_TEST))
    return " ".join(noticed) or _(EVEN_IN_TEST)


def beside_in_test(report: Report | None) -> str:
    """Return what a capture shows beside low cylinders: what stands high, and a weaker bank."""
    return f"{high_in_test(report)} {bank_in_test(report)}".strip()


def high_in_test(report: Report | None) -> str:
    """Return that a cylinder stands high, on orders and to the customer; "" where none does."""
    if report is None or not is_high(report):
        return ""
    return _(HIGH_IN_TEST).format(cylinders=high_words(report))


def shows_nothing(run: Run | None) -> bool:
    """Return whether a run is even with nothing beside it: no weaker bank, nothing high."""
    report = run.report if run else None
    return (
        report is not None
        and report.verdict == "even"
        and not (is_high(report) or weaker_bank(report))
    )


def engine_of(visit: Visit, run: Run | None) -> Engine | None:
    """Return the engine a run was set up with, or else the vehicle's."""
    if run is not None and run.setup.engine is not None:
        return run.setup.engine
    return visit.vehicle.engine


def fuel_known(visit: Visit, run: Run | None) -> Fuel | None:
    """Return what the engine runs on as far as anybody said; None where nobody did.

    The vehicle's fuel counts first, then what a run was set up with, then the engine's. Gas
    burns by spark, so it counts as petrol.
    """
    if visit.vehicle.fuel:
        return "diesel" if visit.vehicle.fuel == Vehicle.Fuel.DIESEL else "petrol"
    if run is not None:
        return run.setup.analysis.fuel
    engine = visit.vehicle.engine
    return cast("Fuel", engine.fuel) if engine else None


def fuel_of(visit: Visit, run: Run | None) -> Fuel:
    """Return what the engine runs on, as `fuel_known`; petrol where nobody said."""
    return fuel_known(visit, run) or "petrol"


def engine_sequence(visit: Visit, run: Run | None) -> tuple[int, ...] | None:
    """Return the firing sequence that was frozen into a run, or else the vehicle's engine's."""
    if run is not None:
        return run.setup.analysis.firing_order.sequence
    engine = visit.vehicle.engine
    return engine.order.sequence if engine else None


def is_flat(engine: Engine | None) -> bool:
    """Return whether the engine's cylinders lie flat, so that oil does not reach whole rings."""
    return engine is not None and engine.layout_kind.family is Family.FLAT


def has_banks(engine: Engine | None) -> bool:
    """Return whether the engine is known to have more than one bank.

    What bank A is, only the drawing of a known engine says.
    """
    return engine is not None and len(engine.layout_kind.banks) > 1


def engine_places(engine: Engine | None) -> Mapping[int, Place]:
    """Return where the cylinders sit; empty where the engine does not say."""
    if engine is None:
        return {}
    try:
        return engine.places
    except PositionError:
        return {}


def is_high_unnumbered(run: Run | None) -> bool:
    """Return whether something stands high in a run that does not settle which cylinder."""
    report = run.report if run else None
    return report is not None and not high_in(run) and bool(standing_high(report))


def high_in(run: Run | None) -> tuple[int, ...]:
    """Return cylinders that stand high in a run whose sync decides the numbers."""
    report = run.report if run else None
    if run is None or report is None or not report.cylinders_known or len(report.candidates) > 1:
        return ()
    numbers = (report.estimates[i].cylinder for i in standing_high(report))
    return tuple(sorted(c for c in numbers if c is not None))


def why_no_proof(tie: VisitCapture) -> str:
    """Return why a capture cannot be one made after the repair; empty where it can."""
    if not tie.visit.judgements.exists():
        return _("Sign a verdict first: there is no repair yet that could be proved.")
    if tie.visit.judgements.filter(run__capture_id=tie.capture_id).exists():
        return _("A verdict is signed on this capture, so it was made before the repair.")
    return ""
