"""What the pages of a capture show."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext as _

from traces.core.drawings import CyclePicture, Picture, Strip
from traces.core.findings import Finding, place_letter
from traces.core.report import (
    LIMITS,
    PRESSURE_LIMITS,
    RUNNING_LIMITS,
    Aid,
    BankView,
    Estimate,
    Report,
    bank_view,
    finding_aid,
    fitting_cylinders,
    grade_words,
    is_high,
    is_noteworthy,
    reading_aids,
    told_calls,
    verdict_sentence,
    verdict_words,
)
from traces.core.setup import AnalysisSetup
from traces.core.signal_kinds import Shown
from traces.core.signals import shown_as
from traces.core.starter import StarterTable, starter_table
from traces.models import Capture, KnownGood, Reading, Run, Work, WorkerBeat
from traces.selectors.clock import database_now
from traces.selectors.cycle_figures import CycleRow, cycle_rows, run_cycle_picture, run_strip
from traces.selectors.exports import export_name
from traces.selectors.figures import run_evidence
from traces.selectors.known_good import known_good_of
from traces.selectors.noticed import Explained, Folded, folded_notes, said_beside
from traces.selectors.readings import FilePage, file_page

_BEAT_FRESH_S = 15.0
_UNSENT_S = 5.0
_LISTED = 5


@dataclass(frozen=True, slots=True)
class WorkState:
    """Where a piece of work stands, in words for the page.

    Parameters
    ----------
    state
        One of `Work.State`.
    word
        The state as a badge.
    sentence
        What goes on, why, and what to do where something is to be done.
    worker_missing
        Whether it waits and no worker is there.
    """

    state: str
    word: str
    sentence: str
    worker_missing: bool = False

    @property
    def is_settled(self) -> bool:
        """Whether nothing more will happen by itself."""
        return self.state in {Work.State.DONE, Work.State.FAILED}


@dataclass(frozen=True, slots=True)
class RunOutcome:
    """A run's report, ready for a template."""

    run: Run
    report: Report
    setup: AnalysisSetup

    @property
    def headline(self) -> str:
        """The verdict as one line."""
        return verdict_words(self.report)

    @property
    def sentence(self) -> str:
        """The verdict as one sentence with figure and interval."""
        return verdict_sentence(self.report)

    @property
    def shown(self) -> Shown:
        """How the signal that was judged is named, and how far it is trusted."""
        return shown_as(self.setup.signal)

    @property
    def limits(self) -> str:
        """What the verdict cannot say."""
        if self.report.is_pressure:
            return str(PRESSURE_LIMITS)
        return str(RUNNING_LIMITS if self.report.is_running else LIMITS)

    @property
    def badge(self) -> tuple[str, str]:
        """Word and kind of the verdict's badge."""
        if self.report.verdict == "even" and is_high(self.report):
            return _("Even, but something is high"), "watch"
        if self.report.verdict == "even" and self.banks is not None and self.banks.is_uneven:
            return _("Even, one bank weaker"), "watch"
        if self.report.verdict == "even" and any(e.call == "watch" for e in self.estimates):
            return _("Even, something to watch"), "watch"
        if self.report.verdict == "measured":
            return _("Measured"), "watch" if is_noteworthy(self.report) else "plain"
        kinds = {"even": (_("Even"), "good"), "uneven": (_("Uneven"), "suspect")}
        return kinds.get(self.report.verdict, (_("Not judged"), "stop"))

    @property
    def estimates(self) -> tuple[Estimate, ...]:
        """Estimates in firing sequence; without cylinder numbers where those are not known."""
        if self.report.cylinders_known:
            return self.report.estimates
        return tuple(replace(e, cylinder=None) for e in self.report.estimates)

    @property
    def told_estimates(self) -> tuple[tuple[Estimate, str], ...]:
        """Estimates with their calls as people are told them."""
        return tuple(zip(self.estimates, told_calls(self.estimates), strict=True))

    @property
    def graded(self) -> tuple[tuple[Estimate, str], ...]:
        """Estimates of an idling engine with what their contribution is called."""
        return tuple(zip(self.estimates, grade_words(self.report), strict=True))

    @property
    def banks(self) -> BankView | None:
        """Bank against bank; None where the engine has one bank or cylinders are not known."""
        return bank_view(self.report)

    @property
    def candidates(self) -> tuple[tuple[int, ...], ...]:
        """Sets of low cylinders that fit, where more than one does."""
        return self.report.candidates if len(self.report.candidates) > 1 else ()

    @property
    def stops(self) -> tuple[Finding, ...]:
        """What kept the capture from being judged."""
        return tuple(f for f in self.report.findings if f.severity == "stop")

    @property
    def others(self) -> tuple[Finding, ...]:
        """Everything else that was noticed, apart from what `limits` says on the same page."""
        return tuple(
            f for f in self.report.findings if f.severity != "stop" and f.code != "relative-only"
        )

    @property
    def explained_stops(self) -> tuple[Explained, ...]:
        """What kept the capture from being judged, each with its reading aid."""
        return self._explained(self.stops)

    @property
    def explained_others(self) -> tuple[Explained, ...]:
        """Everything else that was noticed, each with its reading aid."""
        return self._explained(self.others)

    @property
    def said_beside(self) -> tuple[Explained, ...]:
        """What must be read with the verdict, because it may change its meaning."""
        return said_beside(self.explained_others)

    @property
    def folded_notes(self) -> tuple[Folded, ...]:
        """Notes that leave the verdict as it is, by their names."""
        return folded_notes(self.explained_others)

    def _explained(self, findings: tuple[Finding, ...]) -> tuple[Explained, ...]:
        return tuple(Explained(f, finding_aid(f, self.setup.signal)) for f in findings)

    @property
    def aids(self) -> tuple[Aid, ...]:
        """What helps to read this curve, with its own figures."""
        return reading_aids(self.report, self.setup)

    @property
    def picture(self) -> Picture | None:
        """The evidence picture; None where there is nothing to point at, or no samples."""
        try:
            return run_evidence(self.run)
        except FileNotFoundError:
            return None

    @property
    def export_name(self) -> str:
        """What files of this run are called, without their ending."""
        return export_name(self.run)

    @property
    def evidence_file(self) -> str:
        """What the evidence picture is called as a file."""
        return f"{self.export_name}-evidence.svg"

    @property
    def is_good(self) -> bool:
        """Whether nothing speaks against keeping it as known good."""
        return self.report.verdict == "even" or (
            self.report.verdict == "measured" and not is_noteworthy(self.report)
        )

    @property
    def known_good(self) -> KnownGood | None:
        """The entry of the shop's known-good captures that this run is kept as."""
        return known_good_of(self.run)

    @property
    def starter(self) -> StarterTable | None:
        """Figures of starter and battery in words; None where no crank was found."""
        return starter_table(self.report.starter) if self.report.starter else None

    @property
    def cylinders(self) -> tuple[int, ...]:
        """Numbers of the engine's cylinders."""
        return tuple(sorted(self.setup.firing_order.sequence))

    @property
    def cylinders_by_hump(self) -> str:
        """The cylinders that fit each hump that has no number: "A:1,5 B:3,6"."""
        sequence = self.setup.firing_order.sequence
        fitting = fitting_cylinders(self.report, sequence)
        return " ".join(
            f"{place_letter(place)}:{','.join(map(str, numbers))}"
            for place, numbers in fitting.items()
        )

    @property
    def setup_line(self) -> str:
        """The set-up as one line."""
        return self.run.setup.words

    @property
    def cycles(self) -> tuple[CycleRow, ...]:
        """The figures cycle by cycle."""
        return cycle_rows(self.report)

    @property
    def cycle_picture(self) -> CyclePicture | None:
        """One engine cycle as measured and as fitted; None where nothing was fitted."""
        return run_cycle_picture(self.run)

    @property
    def strip(self) -> Strip | None:
        """The figures cycle by cycle as a picture; None where there are none."""
        return run_strip(self.report, self.setup)


@dataclass(frozen=True, slots=True)
class CapturePage:
    """A capture as its page shows it.

    Parameters
    ----------
    capture, reading
        With who uploaded it.
    runs
        All of the capture's runs, newest first, without their results.
    run
        The one shown: the one asked for, or the newest.
    outcome
        Its report, once there is one.
    reading_state, run_state
        Where the two kinds of work stand; None for a run that is not there yet.
    file
        How the file was read: now, before, and anew.
    anew_state
        Where a reading anew stands, while one is asked for.
    """

    capture: Capture
    reading: Reading
    runs: tuple[Run, ...]
    run: Run | None
    outcome: RunOutcome | None
    reading_state: WorkState
    run_state: WorkState | None
    file: FilePage
    anew_state: WorkState | None

    @property
    def is_settled(self) -> bool:
        """Whether the page changes no more by itself."""
        states = (self.reading_state, self.run_state, self.anew_state)
        return all(state is None or state.is_settled for state in states)

    @property
    def older_runs(self) -> frozenset[int]:
        """Numbers of the runs that were made before the file was read anew."""
        return frozenset(
            run.pk for run in self.runs if run.reading_id not in self.file.same_samples
        )

    @property
    def earlier_runs(self) -> list[Run]:
        """Runs behind a fold, never the one shown: each undo adds one, and the list grows."""
        return [run for run in self.runs[_LISTED:] if run != self.run]

    @property
    def can_be_set_up(self) -> bool:
        """Whether the file was read, so that its channels can be chosen."""
        return self.reading.state == Work.State.DONE


def capture_page(capture: Capture, run: Run | None = None) -> CapturePage:
    """Return what the page of a capture that the member may see shows, with `run` or the newest."""
    runs = tuple(capture.runs.with_setup().defer("result"))
    if run is None and runs:
        run = capture.runs.with_setup().select_related("reading").get(pk=runs[0].pk)
    report = run.report if run else None
    file = file_page(capture)
    beat = now = None
    if not all(work.is_settled for work in (capture.reading, file.newest, run) if work):
        beat, now = WorkerBeat.objects.order_by("-seen_at").first(), database_now()
    return CapturePage(
        capture=capture,
        reading=capture.reading,
        runs=runs,
        run=run,
        outcome=RunOutcome(run, report, run.setup.analysis) if run and report else None,
        reading_state=work_state(capture.reading, beat, now, doing=_("Reading the file")),
        run_state=work_state(run, beat, now, doing=_("Analysing")) if run else None,
        file=file,
        anew_state=work_state(file.newest, beat, now, doing=_("Reading the file anew"))
        if file.newest
        else None,
    )


def work_state(
    work: Work, beat: WorkerBeat | None, now: datetime | None, *, doing: str
) -> WorkState:
    """Put into words where a piece of work stands.

    Parameters
    ----------
    beat
        The last worker that said it was there; only asked for work that waits.
    now
        By the database's clock; only asked for work that is not settled.
    doing
        What a running worker does, as the beginning of a sentence.
    """
    if work.state == Work.State.QUEUED:
        return _queued(work, beat, now)
    if work.state == Work.State.RUNNING:
        told = doing
        if work.started_at:
            told = _("%(doing)s since %(at)s") % {"doing": doing, "at": _clock(work.started_at)}
        if work.attempts > 1:
            told += " " + _("(attempt %(attempts)s)") % {"attempts": work.attempts}
        told += "."
        if _age_s(work.heartbeat_at, now) > settings.WORKER_STALE_S:
            told += " " + _("Its worker went silent; another takes over by itself.")
        return WorkState(work.state, _("Running"), told)
    if work.state == Work.State.FAILED:
        return WorkState(work.state, _("Failed"), _(work.error) if work.error else "")
    return WorkState(work.state, _("Done"), "")


def _queued(work: Work, beat: WorkerBeat | None, now: datetime | None) -> WorkState:
    if beat is None or _age_s(beat.seen_at, now) > _BEAT_FRESH_S:
        heard = (
            _("No worker has reported since %(clock)s") % {"clock": _clock(beat.seen_at)}
            if beat
            else _("No worker has reported yet")
        )
        return WorkState(
            work.state,
            _("Queued"),
            _(
                "Queued. %(heard)s; nothing is lost, and the work begins by itself as soon "
                "as one runs. On this machine start it with “make run”, elsewhere start "
                "the worker service."
            )
            % {"heard": heard},
            worker_missing=True,
        )
    since = _("Queued since %(clock)s") % {"clock": _clock(work.queued_at)}
    if work.sent_at is None and _age_s(work.queued_at, now) > _UNSENT_S:
        return WorkState(
            work.state,
            _("Queued"),
            _("%(since)s. The queue did not take it; it is sent again by itself within a minute.")
            % {"since": since},
        )
    return WorkState(
        work.state, _("Queued"), _("%(since)s; the worker takes it next.") % {"since": since}
    )


def _age_s(at: datetime | None, now: datetime | None) -> float:
    return (now - at) / timedelta(seconds=1) if at and now else float("inf")


def _clock(at: datetime | None) -> str:
    """Return hour and minute in the shop's zone, with the date when that was another day."""
    if at is None:
        return "–"
    local, today = timezone.localtime(at), timezone.localdate()
    return local.strftime("%H:%M" if local.date() == today else "%d.%m. %H:%M")
