"""A person's corrections of a run: each is a new run, the old one stays, and undo goes back."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any
from uuid import uuid4

import pytest

from engines.core.firing import FiringOrder
from engines.models import Engine
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes, csv_setup, reference, reference_setup, shifted
from tests.wording import says, says_only, wording
from traces.core.readers import Correction
from traces.core.report.cycle_uses import CycleUse, CycleUses
from traces.core.report.parts import ReportParts
from traces.core.report.results import Hump, Report
from traces.core.setup.analysis_setup import SetupError
from traces.core.setup.conditions import Conditions
from traces.core.setup.edit_changes import by_hand_words, labels_shifted, only_judged
from traces.core.setup.manual_edits import ManualEdits
from traces.models import Capture, CaptureSetup, Reading, Run, Work
from traces.runs.analysing import run_analyse
from traces.runs.reading import reading_read
from traces.selectors.hand import cycles_of, hand_state
from traces.services import TokenUsedError, run_add, run_adjust, run_redo, run_undo
from traces.services.readings import reading_correct


class TestServices:
    def test_a_change_is_a_new_run_and_the_old_one_stays(
        self, add_read: Callable[..., Capture], cast: Cast, engine: Engine
    ) -> None:
        capture = add_read(reference("ref-01.csv").read_bytes(), name="ref-01.csv")
        noted = Conditions(True, False, "open", "warm", 12.4)
        old = run_add(
            member=cast.diagnostician,
            capture=capture,
            analysis=reference_setup("ref-01.csv"),
            engine=engine,
            conditions=noted,
        )
        assert run_analyse(old.pk)
        old.refresh_from_db()
        kept = Run.objects.filter(pk=old.pk).values().get()
        settings = old.setup.settings
        new = shifted(old, cast.owner)
        assert (new.capture, new.reading, new.state) == (capture, old.reading, Work.State.QUEUED)
        made = new.setup
        assert made.came_from == old.setup
        assert says_only(
            made.change, "edit_changes.labels-moved", places=wording("manual_edits.place", count=1)
        )
        assert (made.engine, made.created_by) == (engine, cast.owner)
        assert (made.fuel_off, made.charger_off, made.throttle) == (True, False, "open")
        assert (made.temperature, made.battery_v) == ("warm", 12.4)
        assert made.analysis == replace(old.setup.analysis, hand=ManualEdits(shift=1))
        assert run_analyse(new.pk)
        new.refresh_from_db()
        assert Run.objects.filter(pk=old.pk).values().get() == kept
        assert CaptureSetup.objects.get(pk=old.setup_id).settings == settings
        before, after = old.report, new.report
        assert before
        assert after
        assert before.candidates == ((1,),)
        assert after.candidates == ((3,),)
        assert [e.relative for e in after.estimates] == [e.relative for e in before.estimates]
        assert says(
            made.words,
            "manual_edits.labels-moved-hand",
            places=wording("manual_edits.place", count=1),
        )

    def test_the_same_form_twice_is_one_run(self, run: Run, cast: Cast, add_read) -> None:
        token = uuid4()
        changed = labels_shifted(run.setup.analysis, 1)
        for _ in range(2):
            new = run_adjust(member=cast.diagnostician, run=run, changed=changed, form_token=token)
        assert Run.objects.count() == 2
        undone = {
            run_undo(member=cast.diagnostician, run=new, form_token=other).pk
            for other in [uuid4()] * 2
        }
        assert len(undone) == 1
        other = add_read(csv_bytes())
        elsewhere = run_add(member=cast.diagnostician, capture=other, analysis=csv_setup())
        with pytest.raises(TokenUsedError):
            run_adjust(member=cast.diagnostician, run=elsewhere, changed=changed, form_token=token)

    def test_a_set_up_that_the_file_cannot_answer_is_refused(self, run: Run, cast: Cast) -> None:
        Reading.objects.update(state=Work.State.RUNNING)
        with pytest.raises(SetupError) as refused:
            shifted(run, cast.diagnostician)
        assert says(refused.value, "runs.file-not-been-read")
        assert Run.objects.count() == 1

    def test_a_file_read_anew_since_may_mean_other_times(self, run: Run, cast: Cast) -> None:
        anew = reading_correct(
            member=cast.diagnostician, capture=run.capture, correction=Correction(start_s=5.0)
        )
        assert reading_read(anew.pk)
        run = Run.objects.get(pk=run.pk)
        with pytest.raises(SetupError) as refused:
            shifted(run, cast.diagnostician)
        assert says(refused.value, "manual_edits.analysis-earlier-reading-file")
        assert Run.objects.count() == 1

    def test_undo_goes_back_to_the_first_and_again_forward(self, run: Run, cast: Cast) -> None:
        member = cast.diagnostician
        first = run.setup.analysis
        one = shifted(run, member)
        two = run_adjust(
            member=member, run=one, changed=only_judged(one.setup.analysis, (0.5, 3.0))
        )
        moved, judged = _state(two).changes
        assert says_only(
            moved.words, "edit_changes.labels-moved", places=wording("manual_edits.place", count=1)
        )
        assert says_only(judged.words, "edit_changes.only-judged", span_s="0.50 to 3.00 s")
        back = run_undo(member=member, run=two)
        assert back.pk not in (one.pk, two.pk)
        assert back.setup.analysis == one.setup.analysis
        assert [c.words for c in _state(back).changes] == [moved.words]
        assert says_only(_state(back).redo, "edit_changes.only-judged", span_s="0.50 to 3.00 s")
        at_first = run_undo(member=member, run=back)
        assert at_first.setup.analysis == first
        assert at_first.setup.came_from is None
        assert _state(at_first).undo == ""
        with pytest.raises(SetupError) as refused:
            run_undo(member=member, run=at_first)
        assert says(refused.value, "manual_edits.there-no-change-hand")
        again = run_redo(member=member, run=at_first)
        assert again.setup.analysis == one.setup.analysis
        last = run_redo(member=member, run=again)
        assert last.setup.analysis == two.setup.analysis
        assert [c.words for c in _state(last).changes] == [c.words for c in _state(two).changes]
        with pytest.raises(SetupError) as refused:
            run_redo(member=member, run=last)
        assert says(refused.value, "manual_edits.there-no-change-make")
        # and back once more, from what was made again
        assert run_undo(member=member, run=last).setup.analysis == one.setup.analysis
        assert run.capture.runs.count() == 8

    def test_after_another_change_there_is_nothing_to_make_again(
        self, run: Run, cast: Cast
    ) -> None:
        undone = run_undo(member=cast.diagnostician, run=shifted(run, cast.diagnostician))
        other = shifted(undone, cast.diagnostician, -1)
        assert _state(other).redo == ""
        assert _state(run).redo == ""

    def test_undo_brings_the_result_at_once_where_nothing_else_changed(
        self, run: Run, cast: Cast, settings
    ) -> None:
        member = cast.diagnostician
        one = shifted(run, member)
        at_once = run_undo(member=member, run=one)
        assert at_once.state == Work.State.DONE
        assert at_once.finished_at
        assert (at_once.result, at_once.verdict) == (run.result, run.verdict)
        assert (at_once.sha256, at_once.code_version) == (run.sha256, run.code_version)
        assert not run_analyse(at_once.pk), "nothing is left to do"
        # its change was never analysed, so there is nothing to take over
        assert run_redo(member=member, run=at_once).state == Work.State.QUEUED
        settings.VERSION = "9.9.9"
        assert run_undo(member=member, run=one).state == Work.State.QUEUED
        settings.VERSION = run.code_version
        anew = Reading.objects.create(
            capture=run.capture, state=Work.State.DONE, understood=run.reading.understood
        )
        Capture.objects.filter(pk=run.capture_id).update(current_reading=anew)
        read_anew = run_undo(member=member, run=one)
        assert (read_anew.state, read_anew.reading) == (Work.State.QUEUED, anew)

    def test_an_engine_goes_with_its_change(
        self, run: Run, cast: Cast, engine: Engine, other_engine: Engine
    ) -> None:
        changed = labels_shifted(run.setup.analysis, 1)
        new = run_adjust(member=cast.diagnostician, run=run, changed=changed, engine=other_engine)
        assert new.setup.engine == other_engine
        assert run_undo(member=cast.diagnostician, run=new).setup.engine == engine


def _state(run: Run) -> Any:
    return hand_state(run.setup, run.report or Report("not judged"))


def test_runs_from_before_cycles_were_told_offer_those_between_humps() -> None:
    humps = tuple(Hump(0.5 + 0.25 * i, i % 4 + 1, None, i // 4 + 1, 100.0, 50.0) for i in range(12))
    found = cycles_of(Report("even", humps=humps))
    assert [(c.number, c.from_s, c.to_s) for c in found] == [(1, 0.5, 1.5), (2, 1.5, 2.5)]
    told = CycleUses((CycleUse(0.1, 0.6, "run-up"), CycleUse(0.6, 1.1)))
    found = cycles_of(Report("even", humps=humps, parts=ReportParts(cycle_uses=told)))
    assert [(c.number, c.value) for c in found] == [(2, "0.6:1.1")]


def test_all_that_a_hand_changed_in_a_sentence() -> None:
    first = reference_setup("ref-01.csv")
    assert by_hand_words(first, first) == ""
    other = replace(first, firing_order=FiringOrder.parse("1-2-4-3"), invert=True, sync=None)
    inverted, engine, sync = by_hand_words(first, other).rstrip(".").split("; ")
    assert says_only(inverted, "edit_changes.current-inverted-hand")
    orders = {"before": "1-3-4-2", "after": "1-2-4-3"}
    assert says_only(engine, "edit_changes.engine-changed-from-hand", **orders)
    assert says_only(sync, "edit_changes.recorded-sync-not-used")
