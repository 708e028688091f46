"""A person's corrections on a capture's page: what is offered, refused, and taken back."""

import re
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from engines.models import Engine
from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes, shifted
from tests.wording import named, says, wording
from traces.core.report.results import Report
from traces.core.setup.manual_edits import NO_EDITS, ManualEdits, ManualMarks
from traces.models import Capture, Run, Work
from traces.selectors.hand import cycles_of

ClientFor = Callable[[Member], Client]


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

        def hand_of(made: Run) -> ManualEdits:
            return made.setup.analysis.hand

        assert hand_of(self._change(client, run, "on")) == ManualEdits(shift=1)
        assert hand_of(self._change(client, run, "back")) == ManualEdits(shift=-1)
        chosen = self._change(client, run, "span", from_s="0.5", to_s="2.5")
        assert hand_of(chosen) == ManualEdits(span_s=(0.5, 2.5))
        left = self._change(client, run, "leave-out", spans=[cycle.value])
        assert hand_of(left) == ManualEdits(left_out_s=((cycle.from_s, cycle.to_s),))
        marked = self._change(
            client, run, "mark", at_s="1.5", cylinder="3", event="tdc", every_deg="360"
        )
        assert hand_of(marked) == ManualEdits(marks=ManualMarks((1.5,), 3, "tdc", 360))
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
        assert self._change(client, span, "whole").setup.analysis.hand == NO_EDITS
        left = judged("leave-out", spans=[cycle.value])
        assert self._change(client, left, "take-back", spans=[cycle.value]).setup.analysis == (
            run.setup.analysis
        )
        marks = {"cylinder": "3", "event": "ignition", "every_deg": "720"}
        one = judged("mark", at_s="1.5", **marks)
        both = self._change(client, one, "mark", at_s="1.0", **marks)
        assert both.setup.analysis.hand.marks == ManualMarks((1.0, 1.5), 3)
        assert self._change(client, one, "unmark").setup.analysis.hand == NO_EDITS
        without = judged("no-sync")
        assert self._change(client, without, "sync").setup.analysis == run.setup.analysis

    def test_a_set_up_made_anew_says_what_it_leaves_behind(self, run: Run, client: Client) -> None:
        address = reverse("traces:setup", args=[run.capture_id])
        assert not says(
            client.get(address).content.decode(), "offered_setups.what-changed-hand-does"
        )
        self._change(client, run, "on")
        text = client.get(address).content.decode()
        assert says(
            text,
            "offered_setups.what-changed-hand-does",
            changed=wording(
                "manual_edits.labels-moved-hand", places=wording("manual_edits.place", count=1)
            ),
        )

    def test_undo_and_redo_on_the_page(self, run: Run, client: Client) -> None:
        new = self._change(client, run, "on")
        Run.objects.filter(pk=new.pk).update(state=Work.State.DONE, result=run.result)
        address = reverse("traces:run", args=[run.capture_id, new.pk])
        text = client.get(address).content.decode()
        assert says(text, "hand_steps.undo", undo=new.setup.change)
        assert f"{new.setup.change}, by {new.setup.created_by.name}, " in text
        undone = self._change(client, new, "undo")
        assert undone.setup.analysis == run.setup.analysis
        address = reverse("traces:run", args=[run.capture_id, undone.pk])
        text = client.get(address).content.decode()
        assert "Undo:" not in text
        assert says(text, "hand_steps.make-again", redo=new.setup.change)
        assert self._change(client, undone, "redo").setup.analysis == new.setup.analysis

    @pytest.mark.parametrize(
        ("sent", "sentence"),
        [
            (
                ("span", {"from_s": "2.5", "to_s": "1.25"}),
                named("manual_edits.stretch-must-end-after-begins"),
            ),
            (
                ("span", {"from_s": "0.125", "to_s": "soon"}),
                named("manual_edits.type-time-number-seconds"),
            ),
            (
                ("span", {"from_s": "0.125", "to_s": ""}),
                named("manual_edits.type-time-seconds-set"),
            ),
            (
                ("span", {"from_s": "nan", "to_s": "1"}),
                named("manual_edits.type-time-number-seconds"),
            ),
            (("scale", {"mv_per_a": "0"}), named("manual_edits.scale-lies-between-0")),
            (("scale", {"mv_per_a": "10"}), named("edit_changes.changes-nothing-set-up")),
            (("whole", {}), named("edit_changes.changes-nothing-set-up")),
            (("leave-out", {}), named("manual_edits.tick-least-one")),
            (("leave-out", {"spans": ["9:10"]}), named("manual_edits.cycle-not-run-any")),
            (
                ("mark", {"at_s": "1", "cylinder": "9", "event": "cam"}),
                named("manual_edits.engine-no-such-cylinder"),
            ),
            (("engine", {"engine_choice": "99999"}), named("manual_edits.engine-not-your-shop")),
            (("sync", {}), named("manual_edits.no-earlier-set-up")),
            (("undo", {}), named("manual_edits.there-no-change-hand")),
            (("redo", {}), named("manual_edits.there-no-change-make")),
        ],
    )
    def test_what_cannot_be_is_said_and_nothing_typed_is_lost(
        self, run: Run, client: Client, sent: tuple[str, dict[str, str]], sentence: str
    ) -> None:
        do, fields = sent
        answer = client.post(_address(run), _sent(do, **fields))
        assert answer.status_code == 422
        text = answer.content.decode()
        assert says(text, sentence)
        for name, value in fields.items():
            if value and name in ("from_s", "to_s", "mv_per_a", "at_s"):
                assert f'name="{name}" value="{value}"' in text
        assert Run.objects.count() == 1

    def test_a_damaged_page_is_said(self, run: Run, client: Client) -> None:
        answer = client.post(_address(run), {"do": "on", "form_token": "x"})
        assert answer.status_code == 422
        assert says(answer.content.decode(), "manual_edits.page-damaged-open-anew")

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
            assert (says(text, "hand.labels-one-place")) is may, role
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
            "seen": {"say": "None."},
            "to_do": {"say": ""},
        }
        Run.objects.update(result=run.result | {"findings": [finding]})
        text = client.get(reverse("traces:capture", args=[run.capture_id])).content.decode()
        assert not says(text, "hand.labels-one-place")
        assert says(text, "hand.mark-event-cylinder")


class TestWaiting:
    @pytest.fixture
    def moved(self, run: Run, cast: Cast) -> Run:
        return shifted(run, cast.diagnostician)

    @pytest.mark.parametrize("state", [Work.State.QUEUED, Work.State.FAILED])
    def test_a_change_is_taken_back_before_its_result_is_there(
        self, run: Run, moved: Run, client_for: ClientFor, cast: Cast, state: str
    ) -> None:
        Run.objects.filter(pk=moved.pk).update(state=state, error="It was torn; try again.")
        client = client_for(cast.diagnostician)
        address = reverse("traces:capture", args=[run.capture_id])
        assert says(
            client.get(address).content.decode(), "hand_steps.undo", undo=moved.setup.change
        )
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
