"""The set-up page of a capture, and the file as it came."""

from collections.abc import Callable
from pathlib import Path
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.html import conditional_escape
from pytest_django import DjangoAssertNumQueries

from engines.models import Engine
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes
from tests.wording import says
from traces.core.setup.cautions import capture_cautions
from traces.models import Capture, CaptureSetup, Run, Work

ClientFor = Callable[[Member], Client]


class TestSetup:
    @pytest.fixture
    def filled(self, engine: Engine) -> dict[str, str]:
        return {
            "engine": str(engine.pk),
            "scale": "10",
            "current_channel": "clamp",
            "invert": "auto",
            "sync_channel": "coil",
            "sync_event": "ignition",
            "sync_cylinder": "1",
            "sync_every": "720",
            "form_token": str(uuid4()),
        }

    @pytest.fixture
    def capture(self, add_read: Callable[..., Capture]) -> Capture:
        return add_read()

    def test_each_channel_comes_with_its_curve_and_cautions_fold_away(
        self, capture: Capture, page: Callable[..., str]
    ) -> None:
        text = page(capture, name="traces:setup")
        assert text.count('<path d="M') == 2
        assert "clamp (V)" in text
        # what is said before cranking stands on the job, before the upload; here it folds
        for sentence in map(conditional_escape, capture_cautions(None, None)):
            assert text.index("</details>") < text.index(sentence)
        assert 'name="form_token" value="' in text

    def test_the_engine_in_the_address_is_chosen(
        self, capture: Capture, engine: Engine, cast: Cast, client_for: ClientFor
    ) -> None:
        client = client_for(cast.diagnostician)
        address = reverse("traces:setup", args=[capture.pk])
        text = client.get(address, {"engine": engine.pk}).content.decode()
        assert f'<option value="{engine.pk}" selected>' in text
        for nonsense in ("999999", "x", "-1"):
            answer = client.get(address, {"engine": nonsense})
            assert answer.status_code == 200
            assert "selected>Inline" not in answer.content.decode()

    def test_sending_it_makes_a_run_and_goes_back(
        self, capture: Capture, filled: dict[str, str], cast: Cast, client_for: ClientFor
    ) -> None:
        client = client_for(cast.diagnostician)
        address = reverse("traces:setup", args=[capture.pk])
        answer = client.post(address, {**filled, "next": "/jobs/7/"})
        assert (answer.status_code, answer.headers["Location"]) == (302, "/jobs/7/")
        run = Run.objects.get()
        assert run.state == Work.State.QUEUED
        assert run.setup.created_by == cast.diagnostician
        assert run.setup.engine
        assert run.setup.analysis.sync

    def test_sending_it_twice_makes_one_run(
        self, capture: Capture, filled: dict[str, str], cast: Cast, client_for: ClientFor
    ) -> None:
        client = client_for(cast.diagnostician)
        address = reverse("traces:setup", args=[capture.pk])
        assert {client.post(address, filled).status_code for _ in range(2)} == {302}
        assert Run.objects.count() == 1

    @pytest.mark.parametrize("away", ["https://elsewhere.example/", "//elsewhere.example", "x"])
    def test_it_leads_back_to_this_server_only(
        self, capture: Capture, filled, cast: Cast, client_for: ClientFor, away: str
    ) -> None:
        address = reverse("traces:setup", args=[capture.pk])
        answer = client_for(cast.diagnostician).post(address, {**filled, "next": away})
        assert answer.headers["Location"] == reverse("traces:capture", args=[capture.pk])

    def test_a_mistake_keeps_everything_typed(
        self, capture: Capture, filled: dict[str, str], cast: Cast, client_for: ClientFor
    ) -> None:
        answer = client_for(cast.diagnostician).post(
            reverse("traces:setup", args=[capture.pk]),
            {**filled, "sync_cylinder": "9", "battery_v": "12.3", "next": "/jobs/7/"},
        )
        assert answer.status_code == 422
        text = answer.content.decode()
        assert says(text, "setup.engine-no-cylinder-firing", cylinder=9)
        assert 'value="9"' in text
        assert 'value="12.3"' in text
        assert filled["form_token"] in text
        assert 'name="next" value="/jobs/7/"' in text
        assert not Run.objects.exists()

    def test_it_says_which_set_up_it_is_filled_in_from(
        self,
        add_read: Callable[..., Capture],
        filled: dict[str, str],
        cast: Cast,
        client_for: ClientFor,
    ) -> None:
        first, second = (
            add_read(csv_bytes(seed=i), name=f"{name}.csv")
            for i, name in ((1, "<b>cold"), (2, "warm"))
        )
        client = client_for(cast.diagnostician)
        assert "filled in from" not in self._text(client, first).casefold()
        client.post(reverse("traces:setup", args=[first.pk]), filled)
        at = timezone.localtime(CaptureSetup.objects.get().created_at)
        day = f"{at.day} {at:%b %Y, %H:%M}"
        assert says(self._text(client, first), "offered_setups.filled-from-capture-set", at=day)
        text = self._text(client, second)
        assert says(
            text, "offered_setups.clamp-channels-filled-from", capture="&lt;b&gt;cold.csv", at=day
        )
        assert 'name="sync_cylinder" value=' not in text
        assert "selected>Inline" not in text

    def test_it_does_not_say_that_a_scale_asked_anew_is_filled_in(
        self,
        add_read: Callable[..., Capture],
        filled: dict[str, str],
        cast: Cast,
        client_for: ClientFor,
    ) -> None:
        first, second = (add_read(csv_bytes(seed=i), name=f"{i}.csv") for i in (1, 2))
        client = client_for(cast.diagnostician)
        client.post(reverse("traces:setup", args=[first.pk]), filled | {"scale": "1"})
        asked = reverse("traces:setup", args=[second.pk]) + f"?engine={filled['engine']}"
        answer = client.get(asked)
        assert "scale" not in answer.context["form"].initial
        at = timezone.localtime(CaptureSetup.objects.get().created_at)
        assert says(
            answer.content.decode(),
            "offered_setups.channels-filled-set-up",
            capture="1.csv",
            at=f"{at.day} {at:%b %Y, %H:%M}",
        )

    def _text(self, client: Client, capture: Capture) -> str:
        return client.get(reverse("traces:setup", args=[capture.pk])).content.decode()

    def test_what_hangs_on_another_answer_is_not_called_optional(
        self, capture: Capture, page: Callable[..., str]
    ) -> None:
        text = page(capture, name="traces:setup")
        for label in ("Of which cylinder", "The other scale", "What it picks up"):
            assert f"{label}</l" in text
        assert 'Another firing order <span class="field-optional">optional' in text

    def test_before_the_file_is_read_there_is_nothing_to_set_up(
        self, add: Callable[..., Capture], cast: Cast, client_for: ClientFor
    ) -> None:
        capture = add(csv_bytes(seed=9))
        answer = client_for(cast.diagnostician).get(reverse("traces:setup", args=[capture.pk]))
        assert answer.headers["Location"] == reverse("traces:capture", args=[capture.pk])

    def test_the_form_costs_the_same_with_more_engines(
        self,
        capture: Capture,
        cast: Cast,
        client_for: ClientFor,
        django_assert_max_num_queries: DjangoAssertNumQueries,
    ) -> None:
        for i in range(12):
            Engine(key=f"more-{i}", name=f"More {i}", layout="I4", firing_order="1-3-4-2").save()
        client = client_for(cast.diagnostician)
        with django_assert_max_num_queries(10):
            client.get(reverse("traces:setup", args=[capture.pk]))


class TestTheOriginal:
    def test_it_comes_back_as_it_was_sent_and_is_never_shown(
        self, add: Callable[..., Capture], cast: Cast, client_for: ClientFor
    ) -> None:
        content = b"<html><script>alert(1)</script></html>\n1,2\n3,4\n"
        capture = add(content, name="evil.html")
        answer = client_for(cast.mechanic).get(reverse("traces:original", args=[capture.pk]))
        assert b"".join(answer.streaming_content) == content  # type: ignore[attr-defined]
        assert answer.headers["Content-Type"] == "application/octet-stream"
        assert answer.headers["Content-Disposition"] == 'attachment; filename="evil.html"'
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert "private" in answer.headers["Cache-Control"]

    def test_a_file_that_is_gone_is_not_found(
        self, add: Callable[..., Capture], cast: Cast, client_for: ClientFor
    ) -> None:
        capture = add()
        Path(capture.original.path).unlink()
        answer = client_for(cast.mechanic).get(reverse("traces:original", args=[capture.pk]))
        assert answer.status_code == 404
