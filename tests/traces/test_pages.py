"""Pages of a capture: who sees them, what they say in each state, and what they cost."""

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from engines.models import Engine
from shopdiag.people.core.roles import Action, Role, may
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.page_text import as_read
from tests.traces.conftest import analysed, csv_bytes, reference_setup
from tests.wording import says, wording
from traces.models import Capture, PinnedNote, Reading, Run, Work, WorkerBeat
from traces.runs.analysing import run_analyse
from traces.runs.presence import beat
from traces.services import note_pin, run_add
from traces.urls import urlpatterns

ClientFor = Callable[[Member], Client]


def _addresses(run: Run) -> dict[str, str]:
    """Return an address for every page of a capture."""
    note = PinnedNote.objects.create(
        capture=run.capture, at_s=1.0, text="seen", created_by=run.capture.uploaded_by
    )
    arguments = {"pk": run.capture_id, "run_pk": run.pk, "note_pk": note.pk}
    found = {}
    for pattern in OF_CAPTURES:
        wanted = pattern.pattern.converters
        found[str(pattern.name)] = reverse(
            f"traces:{pattern.name}", kwargs={k: arguments[k] for k in wanted}
        )
    return found


# What a form without its fields is answered with, by the name of what takes it.
POSTED = {
    "retry": 302,
    "as-sender": 302,
    "note-pin": 422,
    "note-strike": 302,
    "by-hand": 404,
    "file-as-it-is": 302,
    "file-take-again": 302,
    "file-forget": 302,
    "event-angle-learn": 302,
}
# What an address wants to be told.
ASKED = {"case": {"part": "crank"}}
# What is not there unless it is told more; test_compare_page tells it.
UNTOLD = {"compare-plot": 404}


def _ask(client: Client, name: str, address: str) -> Any:
    return client.post(address) if name in POSTED else client.get(address, ASKED.get(name))


# Libraries and angles are of no one capture; tests of their own try them.
OF_CAPTURES = [p for p in urlpatterns if "pk" in p.pattern.converters]
NEEDS = {str(p.name): getattr(p.callback, "required_actions", ()) for p in OF_CAPTURES}


class TestWhoSeesWhat:
    def test_every_page_asks_for_its_action(self) -> None:
        writing = {"setup", "file", "keep", *POSTED}
        assert {n for n, actions in NEEDS.items() if actions == (Action.CAPTURE,)} == writing
        assert all(
            actions == (Action.SEE_WORK,) for n, actions in NEEDS.items() if n not in writing
        )

    @pytest.mark.parametrize("name", sorted(NEEDS))
    def test_roles_shops_and_strangers(
        self, run: Run, cast: Cast, client_for: ClientFor, name: str
    ) -> None:
        address = _addresses(run)[name]
        for role, member in cast.insiders.items():
            allowed = any(may(role, action) for action in NEEDS[name])
            answer = _ask(client_for(member), name, address)
            if answer.streaming:
                # Read to its end, the file is closed.
                assert list(answer.streaming_content)
            assert answer.status_code == ((POSTED | UNTOLD).get(name, 200) if allowed else 403), (
                role
            )
        for outsider in (cast.outsider, cast.other_owner):
            assert _ask(client_for(outsider), name, address).status_code == 404
        stranger = _ask(Client(), name, address)
        assert stranger.status_code == 302
        assert stranger.headers["Location"].startswith(reverse("people:sign-in"))

    def test_a_person_of_two_shops_sees_the_capture_in_its_own_only(
        self, run: Run, cast: Cast, client_for: ClientFor
    ) -> None:
        address = _addresses(run)["capture"]
        assert client_for(cast.both_here).get(address).status_code == 200
        assert client_for(cast.both_there).get(address).status_code == 404

    def test_a_run_is_found_under_its_own_capture_only(
        self, run: Run, add_read: Callable[..., Capture], cast: Cast, client_for: ClientFor
    ) -> None:
        other = add_read(csv_bytes())
        client = client_for(cast.diagnostician)
        for name in ("run", "plot", "evidence"):
            address = reverse(f"traces:{name}", args=[other.pk, run.pk])
            assert client.get(address).status_code == 404

    @pytest.mark.parametrize("role", [Role.MECHANIC, Role.WRITER])
    def test_who_may_not_set_up_is_not_offered_it(
        self, run: Run, cast: Cast, page: Callable[..., str], role: Role
    ) -> None:
        assert "/set-up/" in page(run.capture)
        assert "/set-up/" not in page(run.capture, cast.insiders[role])


class TestWhileWorkGoesOn:
    def test_queued_and_no_worker_ever(
        self, add: Callable[..., Capture], page: Callable[..., str]
    ) -> None:
        text = page(add())
        assert says(text, "captures.no-worker-reported-yet")
        assert "make run" in text
        assert 'hx-trigger="every 1s"' in text

    def test_queued_and_the_worker_went_silent(
        self, add: Callable[..., Capture], page: Callable[..., str], cast: Cast
    ) -> None:
        cast.shop.time_zone = "Asia/Tokyo"
        cast.shop.save()
        capture = add()
        beat("celery@bench")
        # 03:04 UTC is 12:04 in the shop.
        WorkerBeat.objects.update(seen_at="2024-05-06T03:04:00Z")
        assert says(page(capture), "captures.no-worker-reported-since", clock="06.05. 12:04;")

    def test_queued_and_the_worker_is_there(
        self, add: Callable[..., Capture], page: Callable[..., str]
    ) -> None:
        beat("celery@bench")
        capture = add()
        assert says(page(capture), "captures.worker-takes-next")
        Reading.objects.update(queued_at=timezone.now() - timedelta(seconds=20))
        assert says(page(capture), "captures.queue-did-not-take")

    def test_running(self, add: Callable[..., Capture], page: Callable[..., str]) -> None:
        capture = add()
        now = timezone.now()
        Reading.objects.update(
            state=Work.State.RUNNING, attempts=2, started_at=now, heartbeat_at=now
        )
        text = page(capture)
        assert says(text, "captures.since", doing=wording("state.reading-file"))
        assert "(attempt 2)" in text
        assert "went silent" not in text
        Reading.objects.update(heartbeat_at=now - timedelta(minutes=5))
        assert says(page(capture), "captures.worker-went-silent-another")

    def test_a_file_that_could_not_be_read_and_a_second_try(
        self, add_read: Callable[..., Capture], page: Callable[..., str], client_for, cast: Cast
    ) -> None:
        capture = add_read(b"Dear all,\nplease find it attached.\n")
        text = page(capture)
        assert capture.reading.state == Work.State.FAILED
        assert capture.reading.error.split(";")[0] in text
        assert "hx-trigger" not in text
        assert not says(text, "case.set-up-analysis")
        client = client_for(cast.diagnostician)
        answer = client.post(reverse("traces:retry", args=[capture.pk]), {"next": "/elsewhere/"})
        assert (answer.status_code, answer.headers["Location"]) == (302, "/elsewhere/")
        capture.reading.refresh_from_db()
        assert capture.reading.state == Work.State.QUEUED

    def test_read_and_waiting_for_a_set_up(
        self, add_read: Callable[..., Capture], page: Callable[..., str], cast: Cast
    ) -> None:
        capture = add_read()
        text = page(capture)
        assert says(text, "state.file-read-set-analysis")
        assert "hx-trigger" not in text
        assert says(page(capture, cast.mechanic), "state.file-read-waits-diagnostician")

    def test_a_failed_run_says_why(self, run: Run, page: Callable[..., str]) -> None:
        Run.objects.update(state=Work.State.FAILED, result=None, error="It was torn; try again.")
        text = page(run.capture)
        assert "It was torn; try again." in text
        assert says(text, "runs.analyse-another-set-up")

    def test_the_fragment_stops_asking_and_tells_when_all_is_settled(
        self, run: Run, client_for: ClientFor, cast: Cast
    ) -> None:
        client = client_for(cast.diagnostician)
        address = reverse("traces:state", args=[run.capture_id])
        Run.objects.update(state=Work.State.RUNNING, heartbeat_at=timezone.now())
        running = client.get(address, {"next": "/jobs/1/"})
        text = running.content.decode()
        assert text.lstrip().startswith("<div")
        assert "<html" not in text
        asked = re.search(r'hx-get="([^"]+)"', text)
        assert asked
        assert asked[1] == f"{address}?next=%2Fjobs%2F1%2F"
        assert "HX-Trigger-After-Settle" not in running.headers
        assert "no-cache" in running.headers["Cache-Control"]
        Run.objects.update(state=Work.State.DONE)
        settled = client.get(address)
        assert "hx-get" not in settled.content.decode()
        assert settled.headers["HX-Trigger-After-Settle"] == "capture-settled"
        assert says(settled.content.decode(), "verdict_headline.cylinder-weak", which=1)


class TestTheResult:
    def test_verdict_limits_figures_and_proof(self, run: Run, page: Callable[..., str]) -> None:
        text = page(run.capture)
        assert says(text, "verdict_headline.cylinder-weak", which=1)
        assert says(text, "wording.relative-only-cylinders-compared")
        assert run.report
        assert str(run.report.sync_note) in as_read(text)
        assert says(text, "result.how-cylinders-were-identified")
        # In firing order, with the call in words.
        rows = re.findall(r'<th scope="row" data-label="Cylinder">(\d)</th>', text)
        assert rows[:4] == ["1", "3", "4", "2"]
        assert "badge-suspect" in text
        assert "Cycle by cycle" in text
        assert 'id="evidence"' in text
        assert reverse("traces:plot", args=[run.capture_id, run.pk]) in text
        for finding in run.report.findings:
            assert finding.code not in ("", None)
        assert "Inline four" in text

    def test_a_capture_that_cannot_be_judged_says_why_and_what_to_do(
        self, add_read: Callable[..., Capture], cast: Cast, page: Callable[..., str]
    ) -> None:
        run = analysed(add_read, cast.diagnostician, "ref-20.csv", None)
        text = page(run.capture)
        assert "Not judged" in text
        assert run.report
        stops = [f for f in run.report.findings if f.severity == "stop"]
        assert stops
        assert "finding-stop" in text
        assert "What to do:" in text

    def test_candidates_where_numbers_cannot_be_known(
        self, add_read: Callable[..., Capture], cast: Cast, page: Callable[..., str]
    ) -> None:
        run = analysed(add_read, cast.diagnostician, "ref-16.csv", None)
        text = page(run.capture)
        assert "These sets fit:" in text
        assert run.report
        assert text.count("<li>cylinder ") == len(run.report.candidates)
        assert says(text, "bars.letters-places-firing-order")

    def test_earlier_runs_are_listed_and_can_be_seen(
        self, run: Run, cast: Cast, page: Callable[..., str], client_for: ClientFor
    ) -> None:
        second = run_add(
            member=cast.owner, capture=run.capture, analysis=reference_setup("ref-02.csv")
        )
        run_analyse(second.pk)
        first_address = reverse("traces:run", args=[run.capture_id, run.pk])
        text = page(run.capture)
        assert first_address in text
        assert "Olive Owner" in text
        answer = client_for(cast.mechanic).get(first_address).content.decode()
        assert says(answer, "verdict_headline.cylinder-weak", which=1)
        assert reverse("traces:run", args=[run.capture_id, second.pk]) in answer

    def test_many_runs_are_folded_but_never_the_one_shown(
        self, run: Run, cast: Cast, page: Callable[..., str], client_for: ClientFor
    ) -> None:
        for _ in range(6):
            run_add(member=cast.owner, capture=run.capture, analysis=reference_setup("ref-01.csv"))
        Run.objects.exclude(pk=run.pk).update(state=Work.State.DONE, result=run.result)
        own = reverse("traces:run", args=[run.capture_id, run.pk])
        before, _, folded = page(run.capture).partition("<summary>2 earlier</summary>")
        assert own not in before
        assert own in folded
        answer = client_for(cast.diagnostician).get(own).content.decode()
        before, _, _ = answer.partition("<summary>1 earlier</summary>")
        assert "<strong>Shown</strong>" in before

    def test_what_people_typed_is_never_markup(self, run: Run, page: Callable[..., str]) -> None:
        Capture.objects.update(label='<script>alert("x")</script>', original_name="<img src=x>")
        Engine.objects.update(name="<b>big</b> four")
        text = page(run.capture)
        assert "<script>alert" not in text
        assert "<img src=x>" not in text
        assert "<b>big</b>" not in text

    def test_no_inline_style_or_script(self, run: Run, page: Callable[..., str]) -> None:
        for name in ("traces:capture", "traces:setup"):
            text = page(run.capture, name=name)
            assert not re.search(r"<[^>]+\sstyle=", text)
            assert "<style" not in text
            assert not re.search(r"<script(?![^>]*\ssrc=)", text)
            assert not re.search(r"<[^>]+\son[a-z]+=", text)

    def test_the_page_costs_the_same_with_more_runs(
        self,
        run: Run,
        cast: Cast,
        client_for: ClientFor,
        django_assert_num_queries: DjangoAssertNumQueries,
    ) -> None:
        client = client_for(cast.diagnostician)
        address = reverse("traces:capture", args=[run.capture_id])
        client.get(address)
        # Session, person, memberships; capture, its readings, runs, the run shown, notes, known
        # good; set-ups, engines.
        with django_assert_num_queries(11):
            client.get(address)
        for _ in range(6):
            run_add(member=cast.owner, capture=run.capture, analysis=reference_setup("ref-01.csv"))
        Run.objects.exclude(pk=run.pk).update(state=Work.State.DONE, result=run.result)
        for at_s in range(1, 5):
            note_pin(member=cast.owner, capture=run.capture, at_s=at_s, text="seen")
        with django_assert_num_queries(11):
            client.get(address)
