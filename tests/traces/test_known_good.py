"""The shop's known-good captures: what is kept, who keeps it, and where it is offered."""

import pytest
from django.urls import reverse

from engines.models import Engine
from shopdiag.people.core.roles import Role
from tests.traces.core.cranked import cranked
from tests.traces.judged_runs import judged_run
from tests.wording import says
from traces.core.setup.conditions import Conditions
from traces.models import KnownGood, Run
from traces.services import KnownGoodError, known_good_keep, known_good_retire

LIST = "/captures/known-good/"
WARM = Conditions(
    fuel_off=True, charger_off=True, throttle="closed", temperature="warm", battery_v=12.4
)


@pytest.fixture
def even(add_read, cast, engine) -> Run:
    return judged_run(
        add_read, cast.diagnostician, cranked("I4", 2), engine, name="even.csv", conditions=WARM
    )


@pytest.fixture
def uneven(add_read, cast, engine) -> Run:
    return judged_run(
        add_read, cast.diagnostician, cranked("I4", 2, "one"), engine, name="low.csv", seed=2
    )


class TestKeeping:
    def test_an_even_run_is_kept_once(self, even, cast, engine):
        entry = known_good_keep(member=cast.diagnostician, run=even, note="  60 000 km, gauge 13 ")
        assert (entry.run, entry.engine, entry.note) == (even, engine, "60 000 km, gauge 13")
        assert (entry.shop, entry.created_by) == (cast.shop, cast.diagnostician)
        again = known_good_keep(member=cast.owner, run=even)
        assert again == entry
        assert KnownGood.objects.count() == 1

    def test_an_uneven_run_is_kept_only_knowingly_and_with_a_reason(self, uneven, cast):
        with pytest.raises(KnownGoodError) as refused:
            known_good_keep(member=cast.diagnostician, run=uneven, note="why not")
        assert says(refused.value, "known_good.capture-uneven-no-measure")
        with pytest.raises(KnownGoodError) as refused:
            known_good_keep(member=cast.diagnostician, run=uneven, although_uneven=True)
        assert says(refused.value, "known_good.say-note-why-uneven")
        assert not KnownGood.objects.exists()
        known_good_keep(
            member=cast.diagnostician, run=uneven, note="decompressor", although_uneven=True
        )
        assert KnownGood.objects.get().note == "decompressor"

    def test_what_is_not_judged_or_of_no_engine_is_not_kept(self, even, cast, add_read):
        nameless = judged_run(add_read, cast.diagnostician, cranked("I4", 2), seed=3)
        with pytest.raises(KnownGoodError) as refused:
            known_good_keep(member=cast.diagnostician, run=nameless)
        assert says(refused.value, "known_good.set-up-names-no")
        for changes in ({"verdict": "not judged"}, {"verdict": ""}, {"state": "failed"}):
            Run.objects.filter(pk=even.pk).update(
                **({"verdict": "even", "state": "done"} | changes)
            )
            even.refresh_from_db()
            with pytest.raises(KnownGoodError) as refused:
                known_good_keep(member=cast.diagnostician, run=even)
            assert says(refused.value, "known_good.only-judged-capture-can")

    def test_retired_and_brought_back(self, even, cast):
        entry = known_good_keep(member=cast.diagnostician, run=even)
        assert known_good_retire(member=cast.owner, entry=entry)
        entry.refresh_from_db()
        assert entry.retired_by == cast.owner
        assert entry.retired_at is not None
        assert not known_good_retire(member=cast.diagnostician, entry=entry), "it is out already"
        assert known_good_retire(member=cast.diagnostician, entry=entry, retired=False)
        again = KnownGood.objects.get(pk=entry.pk)
        assert again.retired_at is None
        assert again.retired_by is None

    def test_a_run_is_in_the_library_once(self, even, cast, client_for):
        entry = known_good_keep(member=cast.diagnostician, run=even)
        known_good_retire(member=cast.owner, entry=entry)
        known_good_keep(member=cast.diagnostician, run=even)
        assert not known_good_retire(member=cast.owner, entry=entry, retired=False)
        address = reverse("traces:known-good-retire", args=[entry.pk])
        answer = client_for(cast.owner).post(address, {"retired": "no"}, follow=True)
        assert says(answer.content.decode(), "compare.analysis-library-already-nothing")
        assert KnownGood.objects.filter(run=even, retired_at=None).count() == 1

    def test_another_shop_cannot_retire_it(self, even, cast):
        entry = known_good_keep(member=cast.diagnostician, run=even)
        assert not known_good_retire(member=cast.other_owner, entry=entry)


class TestThePages:
    def test_kept_from_the_capture_and_shown_there_and_in_the_list(
        self, even, cast, engine, client_for
    ):
        client = client_for(cast.diagnostician)
        here = reverse("traces:run", args=[even.capture_id, even.pk])
        assert says(client.get(here).content.decode(), "compare.keep-known-good")
        keep = reverse("traces:keep", args=[even.capture_id, even.pk])
        answer = client.post(keep, {"note": "gauge 13 to 13.4 bar"})
        assert answer.status_code == 302
        assert answer.headers["Location"] == here
        text = client.get(here).content.decode()
        assert says(text, "compare.kept", name="Dana Diag")
        assert "gauge 13 to 13.4 bar" in text
        text = client.get(LIST).content.decode()
        for words in ("even.csv", engine.name, "Warm, throttle closed", "12.4 V", "rpm", "Dana"):
            assert words in text

    def test_what_was_typed_stays_when_it_is_refused(self, uneven, cast, client_for):
        keep = reverse("traces:keep", args=[uneven.capture_id, uneven.pk])
        client = client_for(cast.diagnostician)
        note = "it always was so"
        answer = client.post(keep, {"note": note})
        assert answer.status_code == 422
        text = answer.content.decode()
        assert says(text, "known_good.capture-uneven-no-measure")
        assert note in text
        assert not KnownGood.objects.exists()
        answer = client.post(keep, {"note": note, "although_uneven": "on"})
        assert answer.status_code == 302
        assert KnownGood.objects.exists()

    def test_too_long_a_note_is_refused_in_words(self, even, cast, client_for):
        keep = reverse("traces:keep", args=[even.capture_id, even.pk])
        answer = client_for(cast.diagnostician).post(keep, {"note": "x" * 201})
        assert answer.status_code == 422
        assert answer.context["form"].has_error("note", "max_length")

    @pytest.mark.parametrize("role", [Role.MECHANIC, Role.WRITER])
    def test_others_read_it_but_are_not_offered_to_change_it(self, even, cast, client_for, role):
        entry = known_good_keep(member=cast.diagnostician, run=even)
        client = client_for(cast.insiders[role])
        text = client.get(LIST).content.decode()
        assert "even.csv" in text
        assert "/retire/" not in text
        retire = reverse("traces:known-good-retire", args=[entry.pk])
        assert client.post(retire).status_code == 403
        keep = reverse("traces:keep", args=[even.capture_id, even.pk])
        assert client.post(keep).status_code == 403

    def test_retired_ones_are_hidden_until_asked_for(self, even, cast, client_for):
        entry = known_good_keep(member=cast.diagnostician, run=even)
        client = client_for(cast.owner)
        client.post(reverse("traces:known-good-retire", args=[entry.pk]), {"retired": "yes"})
        assert "even.csv" not in client.get(LIST).content.decode()
        text = client.get(f"{LIST}?retired=on").content.decode()
        assert says(text, "event_angles.retired", name="Olive Owner")
        assert "Bring back" in text
        client.post(reverse("traces:known-good-retire", args=[entry.pk]), {"retired": "no"})
        assert "even.csv" in client.get(LIST).content.decode()

    def test_by_engine(self, even, cast, engine, client_for):
        known_good_keep(member=cast.diagnostician, run=even)
        other = Engine(key="six", name="A six", layout="I6", firing_order="1-5-3-6-2-4", source="x")
        other.save()
        client = client_for(cast.mechanic)
        assert "even.csv" in client.get(f"{LIST}?engine={engine.pk}").content.decode()
        # An engine that nothing is kept of is none to choose, and narrows nothing down.
        text = client.get(LIST).content.decode()
        assert "A six" not in text

    def test_page_by_page(self, even, cast, client_for):
        KnownGood.objects.bulk_create(
            KnownGood(
                shop=cast.shop,
                run=even,
                engine=even.setup.engine,
                note=f"note {i:02d} of many",
                created_by=cast.owner,
            )
            for i in range(25)
        )
        client = client_for(cast.owner)
        assert client.get(LIST).content.decode().count(" of many") == 20
        assert client.get(f"{LIST}?page=2").content.decode().count(" of many") == 5

    def test_another_shop_sees_none_of_it(self, even, cast, client_for):
        entry = known_good_keep(member=cast.diagnostician, run=even)
        client = client_for(cast.other_owner)
        assert "even.csv" not in client.get(LIST).content.decode()
        retire = reverse("traces:known-good-retire", args=[entry.pk])
        assert client.post(retire).status_code == 404
        keep = reverse("traces:keep", args=[even.capture_id, even.pk])
        assert client.post(keep).status_code == 404

    def test_a_note_is_never_markup(self, even, cast, client_for):
        known_good_keep(member=cast.diagnostician, run=even, note="<b>bold</b>")
        text = client_for(cast.owner).get(LIST).content.decode()
        assert "&lt;b&gt;bold" in text
        assert "<b>bold" not in text
