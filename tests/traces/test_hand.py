"""A person's corrections of a run: each is a new run, the old one stays, and undo goes back."""

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from engines.core.firing import FiringOrder
from engines.models import Engine
from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.traces.conftest import analysed, csv_bytes, reference, reference_setup
from traces.core.conditions import Conditions
from traces.core.hand import NO_HAND, Hand, HandMarks
from traces.core.hand_changes import by_hand_words, labels_shifted, only_judged
from traces.core.readers import Correction
from traces.core.results import Hump, Report
from traces.core.setup import SetupError
from traces.models import Capture, CaptureSetup, Reading, Run, Work
from traces.runs.analysing import run_analyse
from traces.runs.reading import reading_read
from traces.selectors.hand import cycles_of, hand_state
from traces.services import TokenUsedError, run_add, run_adjust, run_redo, run_undo
from traces.services.readings import reading_correct

ClientFor = Callable[[Member], Client]


@pytest.fixture
def run(add_read: Callable[..., Capture], cast: Cast, engine: Engine) -> Run:
    return analysed(add_read, cast.diagnostician, "ref-01.csv", engine)


@pytest.fixture
def other_engine(cast: Cast) -> Engine:
    engine = Engine(
        shop=cast.shop, name="Other four", layout="I4", firing_order="1-2-4-3", source="its plate"
    )
    engine.save()
    return engine


def _shifted(run: Run, member: Member, places: int = 1) -> Run:
    return run_adjust(member=member, run=run, changed=labels_shifted(run.setup.analysis, places))


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
        new = _shifted(old, cast.owner)
        assert (new.capture, new.reading, new.state) == (capture, old.reading, Work.State.QUEUED)
        made = new.setup
        assert (made.came_from, made.change) == (old.setup, "Labels moved on by 1 place")
        assert (made.engine, made.created_by) == (engine, cast.owner)
        assert (made.fuel_off, made.charger_off, made.throttle) == (True, False, "open")
        assert (made.temperature, made.battery_v) == ("warm", 12.4)
        assert made.analysis == replace(old.setup.analysis, hand=Hand(shift=1))
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
        assert "labels moved on by 1 place by hand" in made.words

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
        elsewhere = run_add(
            member=cast.diagnostician, capture=other, analysis=reference_setup("ref-01.csv")
        )
        with pytest.raises(TokenUsedError):
            run_adjust(member=cast.diagnostician, run=elsewhere, changed=changed, form_token=token)

    def test_a_set_up_that_the_file_cannot_answer_is_refused(self, run: Run, cast: Cast) -> None:
        Reading.objects.update(state=Work.State.RUNNING)
        with pytest.raises(SetupError, match="has not been read yet"):
            _shifted(run, cast.diagnostician)
        assert Run.objects.count() == 1

    def test_a_file_read_anew_since_may_mean_other_times(self, run: Run, cast: Cast) -> None:
        anew = reading_correct(
            member=cast.diagnostician, capture=run.capture, correction=Correction(start_s=5.0)
        )
        assert reading_read(anew.pk)
        run = Run.objects.get(pk=run.pk)
        with pytest.raises(SetupError, match="earlier reading of the file"):
            _shifted(run, cast.diagnostician)
        assert Run.objects.count() == 1

    def test_undo_goes_back_to_the_first_and_again_forward(self, run: Run, cast: Cast) -> None:
        member = cast.diagnostician
        first = run.setup.analysis
        one = _shifted(run, member)
        two = run_adjust(
            member=member, run=one, changed=only_judged(one.setup.analysis, (0.5, 3.0))
        )
        assert [c.words for c in _state(two).changes] == [
            "Labels moved on by 1 place",
            "Only 0.50 to 3.00 s judged",
        ]
        back = run_undo(member=member, run=two)
        assert back.pk not in (one.pk, two.pk)
        assert back.setup.analysis == one.setup.analysis
        assert [c.words for c in _state(back).changes] == ["Labels moved on by 1 place"]
        assert _state(back).redo == "Only 0.50 to 3.00 s judged"
        at_first = run_undo(member=member, run=back)
        assert at_first.setup.analysis == first
        assert at_first.setup.came_from is None
        assert _state(at_first).undo == ""
        with pytest.raises(SetupError, match="no change by hand"):
            run_undo(member=member, run=at_first)
        again = run_redo(member=member, run=at_first)
        assert again.setup.analysis == one.setup.analysis
        last = run_redo(member=member, run=again)
        assert last.setup.analysis == two.setup.analysis
        assert [c.words for c in _state(last).changes] == [c.words for c in _state(two).changes]
        with pytest.raises(SetupError, match="no change to make again"):
            run_redo(member=member, run=last)
        # and back once more, from what was made again
        assert run_undo(member=member, run=last).setup.analysis == one.setup.analysis
        assert run.capture.runs.count() == 8

    def test_after_another_change_there_is_nothing_to_make_again(
        self, run: Run, cast: Cast
    ) -> None:
        undone = run_undo(member=cast.diagnostician, run=_shifted(run, cast.diagnostician))
        other = _shifted(undone, cast.diagnostician, -1)
        assert _state(other).redo == ""
        assert _state(run).redo == ""

    def test_undo_brings_the_result_at_once_where_nothing_else_changed(
        self, run: Run, cast: Cast, settings
    ) -> None:
        member = cast.diagnostician
        one = _shifted(run, member)
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
    told = [
        {"from_s": 0.1, "to_s": 0.6, "used": False, "reason": "run-up", "words": ""},
        {"from_s": 0.6, "to_s": 1.1, "used": True, "reason": None, "words": ""},
    ]
    found = cycles_of(Report("even", humps=humps, extra={"cycles": told}))
    assert [(c.number, c.value) for c in found] == [(2, "0.6:1.1")]


def _address(run: Run) -> str:
    return reverse("traces:by-hand", args=[run.capture_id, run.pk])


def _sent(do: str, **fields: Any) -> dict[str, Any]:
    return {"do": do, "form_token": str(uuid4()), **fields}


class TestPage:
    @pytest.fixture
    def client(self, client_for: ClientFor, cast: Cast) -> Client:
        return client_for(cast.diagnostician)

    def _change(self, client: Client, run: Run, do: str, **fields: Any) -> Run:
        answer = client.post(_address(run), _sent(do, **fields))
        assert answer.status_code == 302, answer.content.decode()[:4000]
        new = run.capture.runs.first()
        assert new
        assert answer.headers["Location"] == reverse("traces:run", args=[run.capture_id, new.pk])
        assert new.pk != run.pk
        return new

    def test_every_change(self, run: Run, client: Client, other_engine: Engine) -> None:
        before = run.setup.analysis
        cycle = cycles_of(run.report or Report("even"))[1]

        def hand_of(made: Run) -> Hand:
            return made.setup.analysis.hand

        assert hand_of(self._change(client, run, "on")) == Hand(shift=1)
        assert hand_of(self._change(client, run, "back")) == Hand(shift=-1)
        chosen = self._change(client, run, "span", from_s="0.5", to_s="2.5")
        assert hand_of(chosen) == Hand(span_s=(0.5, 2.5))
        left = self._change(client, run, "leave-out", spans=[cycle.value])
        assert hand_of(left) == Hand(left_out_s=((cycle.from_s, cycle.to_s),))
        marked = self._change(
            client, run, "mark", at_s="1.5", cylinder="3", event="tdc", every_deg="360"
        )
        assert hand_of(marked) == Hand(marks=HandMarks((1.5,), 3, "tdc", 360))
        assert self._change(client, run, "scale", mv_per_a="2.5").setup.analysis.mv_per_a == 2.5
        assert self._change(client, run, "turn").setup.analysis.invert is (
            not (run.report and run.report.inverted)
        )
        engine = self._change(client, run, "engine", engine_choice=other_engine.pk)
        assert engine.setup.engine == other_engine
        assert engine.setup.analysis.firing_order == other_engine.order
        assert self._change(client, run, "no-sync").setup.analysis.sync is None
        # none of them changed the first
        run.refresh_from_db()
        assert run.setup.analysis == before

    def test_what_undoes_a_single_change(self, run: Run, client: Client) -> None:
        cycle = cycles_of(run.report or Report("even"))[1]

        def judged(do: str, **fields: Any) -> Run:
            made = self._change(client, run, do, **fields)
            Run.objects.filter(pk=made.pk).update(state=Work.State.DONE, result=run.result)
            return Run.objects.get(pk=made.pk)

        span = judged("span", from_s="0.5", to_s="2.5")
        assert self._change(client, span, "whole").setup.analysis.hand == NO_HAND
        left = judged("leave-out", spans=[cycle.value])
        assert self._change(client, left, "take-back", spans=[cycle.value]).setup.analysis == (
            run.setup.analysis
        )
        marks = {"cylinder": "3", "event": "ignition", "every_deg": "720"}
        one = judged("mark", at_s="1.5", **marks)
        both = self._change(client, one, "mark", at_s="1.0", **marks)
        assert both.setup.analysis.hand.marks == HandMarks((1.0, 1.5), 3)
        assert self._change(client, one, "unmark").setup.analysis.hand == NO_HAND
        without = judged("no-sync")
        assert self._change(client, without, "sync").setup.analysis == run.setup.analysis

    def test_a_set_up_made_anew_says_what_it_leaves_behind(self, run: Run, client: Client) -> None:
        address = reverse("traces:setup", args=[run.capture_id])
        assert "by hand does not go along" not in client.get(address).content.decode()
        self._change(client, run, "on")
        text = client.get(address).content.decode()
        assert "by hand does not go along: labels moved on by 1 place by hand." in text

    def test_undo_and_redo_on_the_page(self, run: Run, client: Client) -> None:
        new = self._change(client, run, "on")
        Run.objects.filter(pk=new.pk).update(state=Work.State.DONE, result=run.result)
        address = reverse("traces:run", args=[run.capture_id, new.pk])
        text = client.get(address).content.decode()
        assert "Undo: Labels moved on by 1 place" in text
        assert f"Labels moved on by 1 place, by {new.setup.created_by.name}, " in text
        undone = self._change(client, new, "undo")
        assert undone.setup.analysis == run.setup.analysis
        address = reverse("traces:run", args=[run.capture_id, undone.pk])
        text = client.get(address).content.decode()
        assert "Undo:" not in text
        assert "Make again: Labels moved on by 1 place" in text
        assert self._change(client, undone, "redo").setup.analysis == new.setup.analysis

    @pytest.mark.parametrize(
        ("sent", "sentence"),
        [
            (("span", {"from_s": "2.5", "to_s": "1.25"}), "must end after it begins"),
            (("span", {"from_s": "0.125", "to_s": "soon"}), "as a number of seconds"),
            (("span", {"from_s": "0.125", "to_s": ""}), "in seconds, or set it"),
            (("span", {"from_s": "nan", "to_s": "1"}), "as a number of seconds"),
            (("scale", {"mv_per_a": "0"}), "between 0.01 and 10000"),
            (("scale", {"mv_per_a": "10"}), "changes nothing"),
            (("whole", {}), "changes nothing"),
            (("leave-out", {}), "Tick at least one"),
            (("leave-out", {"spans": ["9:10"]}), "not in this run any more"),
            (("mark", {"at_s": "1", "cylinder": "9", "event": "cam"}), "has no such cylinder"),
            (("engine", {"engine_choice": "99999"}), "not in your shop"),
            (("sync", {}), "No earlier set-up had a sync"),
            (("undo", {}), "no change by hand to take back"),
            (("redo", {}), "no change to make again"),
        ],
    )
    def test_what_cannot_be_is_said_and_nothing_typed_is_lost(
        self, run: Run, client: Client, sent: tuple[str, dict[str, str]], sentence: str
    ) -> None:
        do, fields = sent
        answer = client.post(_address(run), _sent(do, **fields))
        assert answer.status_code == 422
        text = answer.content.decode()
        assert sentence in text
        for name, value in fields.items():
            if value and name in ("from_s", "to_s", "mv_per_a", "at_s"):
                assert f'name="{name}" value="{value}"' in text
        assert Run.objects.count() == 1

    def test_a_damaged_page_is_said(self, run: Run, client: Client) -> None:
        answer = client.post(_address(run), {"do": "on", "form_token": "x"})
        assert answer.status_code == 422
        assert "This page is damaged" in answer.content.decode()

    @pytest.mark.parametrize("do", ["", "smoke"])
    def test_no_such_change(self, run: Run, client: Client, do: str) -> None:
        assert client.post(_address(run), _sent(do)).status_code == 404

    def test_it_takes_no_get(self, run: Run, client: Client) -> None:
        assert client.get(_address(run)).status_code == 405

    def test_the_same_press_twice_is_one_run(self, run: Run, client: Client) -> None:
        sent = _sent("on")
        places = {client.post(_address(run), sent).headers["Location"] for _ in range(2)}
        assert len(places) == 1
        assert Run.objects.count() == 2

    def test_who_may_not_is_not_offered_it(
        self, run: Run, cast: Cast, client_for: ClientFor
    ) -> None:
        for role, member in cast.insiders.items():
            client = client_for(member)
            text = client.get(reverse("traces:capture", args=[run.capture_id])).content.decode()
            may = role in (Role.DIAGNOSTICIAN, Role.OWNER)
            assert ("Labels one place on" in text) is may, role
        for role, member in cast.insiders.items():
            may = role in (Role.DIAGNOSTICIAN, Role.OWNER)
            answer = client_for(member).post(_address(run), _sent("on"))
            assert answer.status_code == (302 if may else 403), role
        for stranger in (cast.outsider, cast.other_owner):
            assert client_for(stranger).post(_address(run), _sent("on")).status_code == 404

    def test_a_run_of_another_capture_is_not_found(
        self, run: Run, add_read: Callable[..., Capture], client: Client
    ) -> None:
        other = add_read(csv_bytes())
        address = reverse("traces:by-hand", args=[other.pk, run.pk])
        assert client.post(address, _sent("on")).status_code == 404

    def test_the_way_back_is_kept(self, run: Run, client: Client) -> None:
        frame = "/jobs/captures/7/"
        answer = client.post(f"{_address(run)}?next={frame}", _sent("on", here=frame))
        assert answer.headers["Location"] == frame
        own = reverse("traces:run", args=[run.capture_id, run.pk])
        answer = client.post(f"{_address(run)}?next={frame}&engine=3", _sent("back", here=own))
        new = run.capture.runs.first()
        assert new
        address = reverse("traces:run", args=[run.capture_id, new.pk])
        assert answer.headers["Location"] == f"{address}?next=%2Fjobs%2Fcaptures%2F7%2F&engine=3"
        away = client.post(f"{_address(run)}?next=//evil.test/", _sent("on", here="//evil.test/"))
        assert away.headers["Location"].startswith("/captures/")

    def test_a_part_that_asks_by_itself_knows_the_page_around_it(
        self, run: Run, client: Client
    ) -> None:
        address = reverse("traces:state", args=[run.capture_id])
        frame = "/jobs/captures/7/"
        text = client.get(
            address, {"next": frame}, headers={"HX-Current-URL": f"http://testserver{frame}"}
        ).content.decode()
        found = set(re.findall(r'name="here" value="([^"]*)"', text))
        assert found == {frame}

    def test_labels_that_nothing_ties_are_not_offered_to_move(
        self, run: Run, client: Client
    ) -> None:
        assert run.result
        finding = {
            "code": "sync-missing",
            "severity": "note",
            "channel": None,
            "from_s": None,
            "to_s": None,
            "message": "None.",
            "remedy": "",
        }
        Run.objects.update(result=run.result | {"findings": [finding]})
        text = client.get(reverse("traces:capture", args=[run.capture_id])).content.decode()
        assert "Labels one place on" not in text
        assert "Mark an event of a cylinder" in text


class TestWaiting:
    @pytest.fixture
    def moved(self, run: Run, cast: Cast) -> Run:
        return _shifted(run, cast.diagnostician)

    @pytest.mark.parametrize("state", [Work.State.QUEUED, Work.State.FAILED])
    def test_a_change_is_taken_back_before_its_result_is_there(
        self, run: Run, moved: Run, client_for: ClientFor, cast: Cast, state: str
    ) -> None:
        Run.objects.filter(pk=moved.pk).update(state=state, error="It was torn; try again.")
        client = client_for(cast.diagnostician)
        address = reverse("traces:capture", args=[run.capture_id])
        assert "Undo: Labels moved on by 1 place" in client.get(address).content.decode()
        assert "Undo:" not in client_for(cast.mechanic).get(address).content.decode()
        assert client.post(_address(moved), _sent("undo")).status_code == 302
        undone = run.capture.runs.first()
        assert undone
        assert undone.setup.analysis == run.setup.analysis
        # any other change wants a result to look at
        assert client.post(_address(moved), _sent("on")).status_code == 404

    def test_a_first_run_that_waits_has_nothing_to_undo(
        self, run: Run, client_for: ClientFor, cast: Cast
    ) -> None:
        Run.objects.filter(pk=run.pk).update(state=Work.State.QUEUED, result=None)
        client = client_for(cast.diagnostician)
        address = reverse("traces:capture", args=[run.capture_id])
        assert "Undo" not in client.get(address).content.decode()


def test_all_that_a_hand_changed_in_a_sentence() -> None:
    first = reference_setup("ref-01.csv")
    assert by_hand_words(first, first) == ""
    other = replace(first, firing_order=FiringOrder.parse("1-2-4-3"), invert=True, sync=None)
    assert by_hand_words(first, other) == (
        "Sign turned round by hand; engine changed from 1-3-4-2 to 1-2-4-3 by hand; the recorded "
        "sync not used, by hand."
    )
