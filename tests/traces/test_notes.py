"""Notes pinned to a place in a capture's time: who pins, who reads, and that nothing is lost."""

from collections.abc import Callable
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse

from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes
from tests.wording import named, says
from traces.models import Capture, PinnedNote, Run
from traces.selectors.figure_marks import View, note_marks
from traces.selectors.figures import run_figure
from traces.selectors.notes import NotePlace, note_places, pinned_notes
from traces.services import NoteRefusedError, note_pin, note_strike

ClientFor = Callable[[Member], Client]


@pytest.fixture
def capture(add_read: Callable[..., Capture]) -> Capture:
    return add_read(csv_bytes())


def _pin(member: Member, capture: Capture, at_s: float = 1.0, text: str = "knocks") -> PinnedNote:
    return note_pin(member=member, capture=capture, at_s=at_s, text=text)


class TestService:
    def test_numbers_count_as_pinned_and_the_list_runs_in_time(
        self, capture: Capture, cast: Cast
    ) -> None:
        _pin(cast.diagnostician, capture, 2.0, "later")
        _pin(cast.owner, capture, 0.5, "  earlier ")
        found = pinned_notes(capture.pk)
        assert [(n.number, n.at_s, n.text) for n in found] == [
            (2, 0.5, "earlier"),
            (1, 2.0, "later"),
        ]
        assert found[0].who == cast.owner.name

    def test_the_same_form_sent_twice_pins_one(self, capture: Capture, cast: Cast) -> None:
        def pin(token: UUID, text: str) -> PinnedNote:
            return note_pin(
                member=cast.owner, capture=capture, at_s=1.0, text=text, form_token=token
            )

        first, second = uuid4(), uuid4()
        one = pin(first, "knocks")
        assert pin(second, "hisses") != one
        assert pin(first, "knocks") == one
        # another form is asked whether it is meant to say the same again
        with pytest.raises(ValidationError) as asked:
            pin(uuid4(), "knocks")
        assert set(asked.value.message_dict) == {"confirmed"}
        again = note_pin(
            member=cast.owner,
            capture=capture,
            at_s=1.0,
            text="knocks",
            form_token=uuid4(),
            confirmed=True,
        )
        assert again != one

    def test_a_struck_note_stays_with_who_struck_it(self, capture: Capture, cast: Cast) -> None:
        note = _pin(cast.diagnostician, capture)
        strike = note_strike(member=cast.owner, note=note)
        assert note_strike(member=cast.diagnostician, note=note) == strike
        (found,) = pinned_notes(capture.pk)
        assert found.text == "knocks"
        assert found.is_struck
        assert found.struck_by == cast.owner.name
        assert note_places(capture.pk) == ()

    def test_numbers_stay_when_an_earlier_one_is_struck(self, capture: Capture, cast: Cast) -> None:
        first = _pin(cast.diagnostician, capture, 1.0)
        _pin(cast.diagnostician, capture, 2.0)
        note_strike(member=cast.diagnostician, note=first)
        assert note_places(capture.pk) == (NotePlace(2, 2.0),)

    def test_a_striking_cannot_be_struck(self, capture: Capture, cast: Cast) -> None:
        strike = note_strike(member=cast.owner, note=_pin(cast.owner, capture))
        with pytest.raises(NoteRefusedError) as refused:
            note_strike(member=cast.owner, note=strike)
        assert says(refused.value, "notes.no-note-but-striking")

    def test_the_database_refuses_to_change_one(self, capture: Capture, cast: Cast) -> None:
        _pin(cast.owner, capture)
        with pytest.raises(DatabaseError, match="added and never changed"), transaction.atomic():
            PinnedNote.objects.update(text="never said")
        assert PinnedNote.objects.get().text == "knocks"


def _post(client: Client, capture: Capture, **data: Any) -> Any:
    return client.post(reverse("traces:note-pin", args=[capture.pk]), data)


class TestPages:
    def test_pinning_leads_back_to_the_notes(
        self, run: Run, cast: Cast, client_for: ClientFor
    ) -> None:
        client = client_for(cast.diagnostician)
        answer = _post(client, run.capture, at_s="1.25", text="a knock <b>here</b>")
        assert answer.status_code == 302
        assert answer["Location"] == reverse("traces:capture", args=[run.capture_id]) + "#notes"
        note = PinnedNote.objects.get()
        assert (note.at_s, note.text, note.created_by) == (
            1.25,
            "a knock <b>here</b>",
            cast.diagnostician,
        )
        page = client.get(answer["Location"]).content.decode()
        assert "a knock &lt;b&gt;here&lt;/b&gt;" in page
        assert 'data-plot-goto="1.25"' in page
        assert cast.diagnostician.name in page

    def test_it_leads_back_to_the_page_around_but_to_no_other_server(
        self, run: Run, cast: Cast, client_for: ClientFor
    ) -> None:
        client = client_for(cast.diagnostician)
        answer = _post(client, run.capture, at_s="1", text="x", next="/jobs/3/captures/4/")
        assert answer["Location"] == "/jobs/3/captures/4/#notes"
        answer = _post(client, run.capture, at_s="2", text="y", next="//elsewhere.example/")
        assert answer["Location"].startswith("/captures/")
        answer = _post(client, run.capture, at_s="3", text="z", run=str(run.pk))
        assert answer["Location"] == (
            reverse("traces:run", args=[run.capture_id, run.pk]) + "#notes"
        )

    @pytest.mark.parametrize(
        ("data", "sentence"),
        [
            ({"at_s": "", "text": "kept words"}, named("pins.say-time-set-cursor")),
            ({"at_s": "soon", "text": "kept words"}, named("pins.type-time-seconds-like")),
            ({"at_s": "nan", "text": "kept words"}, named("pins.type-time-seconds-like")),
            ({"at_s": "99999", "text": "kept words"}, named("pins.recording-runs-from-s")),
            ({"at_s": "-5", "text": "kept words"}, named("pins.recording-runs-from-s")),
            ({"at_s": "1.0", "text": "  "}, named("notes.write-note-first")),
            ({"at_s": "1.0", "text": "kept words" * 60}, named("pins.note-too-long-keep")),
        ],
    )
    def test_what_cannot_be_pinned_keeps_what_was_typed(
        self, run: Run, cast: Cast, client_for: ClientFor, data: dict[str, str], sentence: str
    ) -> None:
        answer = _post(client_for(cast.diagnostician), run.capture, **data)
        assert answer.status_code == 422
        page = answer.content.decode()
        assert says(page, sentence)
        if data["text"].strip():
            assert "kept words" in page
        if data["at_s"]:
            assert f'value="{data["at_s"]}"' in page
        assert not PinnedNote.objects.exists()

    def test_a_struck_note_is_crossed_out_and_names_who_did_it(
        self, run: Run, cast: Cast, client_for: ClientFor
    ) -> None:
        note = _pin(cast.diagnostician, run.capture)
        client = client_for(cast.owner)
        answer = client.post(reverse("traces:note-strike", args=[run.capture_id, note.pk]))
        assert answer.status_code == 302
        page = client.get(reverse("traces:capture", args=[run.capture_id])).content.decode()
        assert "<s>knocks</s>" in page
        assert f"Struck by {cast.owner.name}" in page
        assert reverse("traces:note-strike", args=[run.capture_id, note.pk]) not in page

    @pytest.mark.parametrize("role", [Role.MECHANIC, Role.WRITER])
    def test_who_may_not_capture_reads_and_is_offered_no_form(
        self, run: Run, cast: Cast, page: Callable[..., str], role: Role
    ) -> None:
        _pin(cast.diagnostician, run.capture)
        text = page(run.capture, cast.insiders[role])
        assert "knocks" in text
        assert reverse("traces:note-pin", args=[run.capture_id]) not in text
        assert "/strike/" not in text

    def test_a_note_is_found_under_its_own_capture_and_shop_only(
        self,
        run: Run,
        add_read: Callable[..., Capture],
        cast: Cast,
        client_for: ClientFor,
    ) -> None:
        note = _pin(cast.diagnostician, run.capture)
        other = add_read(csv_bytes())
        strike = reverse("traces:note-strike", args=[other.pk, note.pk])
        assert client_for(cast.diagnostician).post(strike).status_code == 404
        own = reverse("traces:note-strike", args=[run.capture_id, note.pk])
        assert client_for(cast.other_owner).post(own).status_code == 404
        assert (
            _post(client_for(cast.other_owner), run.capture, at_s="1", text="x").status_code == 404
        )
        assert PinnedNote.objects.count() == 1


class TestPlot:
    def test_only_the_number_goes_into_the_plot(self, run: Run, cast: Cast) -> None:
        _pin(cast.diagnostician, run.capture, 1.5, "<a href='https://x.example'>secret</a>")
        annotations = run_figure(run, View())["layout"]["annotations"]
        (flag,) = [a for a in annotations if a.get("name") == "note 1"]
        assert (flag["x"], flag["text"]) == (1.5, "1")
        assert "secret" not in str(annotations)

    def test_struck_and_distant_notes_have_no_flag(self, run: Run, cast: Cast) -> None:
        note_strike(
            member=cast.diagnostician, note=_pin(cast.diagnostician, run.capture, 1.0, "gone")
        )
        _pin(cast.diagnostician, run.capture, 3.0, "far")
        assert [a["x"] for a in note_marks(note_places(run.capture_id), View())] == [3.0]
        assert note_marks(note_places(run.capture_id), View(0.5, 2.0)) == []

    def test_flags_stay_few(self) -> None:
        places = [NotePlace(i, i / 100) for i in range(5000)]
        assert len(note_marks(places, View())) == 400
