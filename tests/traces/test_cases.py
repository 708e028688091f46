"""A case goes from one shop to another: the same figures, and nobody's name in it."""

import html
import io
import json
import zipfile
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.db.models import CharField, Model, TextField
from django.test import Client
from django.urls import reverse

from engines.models import Engine
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.page_text import as_read
from tests.traces.conftest import csv_bytes, reference, reference_setup
from tests.wording import says
from traces.core.analysis.any_signal import judge
from traces.core.case.case import Case, CaseChannel, told_result, with_parts
from traces.core.exports.case_writing import write_case
from traces.core.report import finding_aid
from traces.core.setup.analysis_setup import SetupError
from traces.models import Capture, CaptureSetup, PinnedNote, Run
from traces.runs.analysing import run_analyse
from traces.selectors.cases import case_of, sent_case
from traces.selectors.exports import run_case
from traces.services import Conditions, case_run_add, run_add
from traces.simulator.scenarios import draw
from traces.simulator.simulate import simulate

ClientFor = Callable[[Member], Client]
_MARK = "Marked-Person-7316"


def _content(run: Run, part: Any = "whole") -> bytes:
    written = run_case(run, part)
    assert written is not None
    with written.file:
        return written.file.read()


@pytest.fixture
def arrived(run: Run, add_read: Callable[..., Capture], cast: Cast) -> Capture:
    """The case as another shop has uploaded and read it."""
    return add_read(_content(run), cast.outsider, name="from a colleague.zip")


class TestOnArrival:
    def test_it_is_read_like_any_capture(self, arrived: Capture, run: Run) -> None:
        assert arrived.reading.understood["format"] == "case"
        assert [c["name"] for c in arrived.reading.channels] == ["clamp", "sync"]
        case = case_of(arrived.reading)
        assert case is not None
        assert run.report
        assert case.result["positions"] == json.loads(json.dumps(run.report.to_json()["positions"]))

    def test_the_senders_result_stands_there_until_there_is_ones_own(
        self, arrived: Capture, run: Run, cast: Cast, page: Callable[..., str]
    ) -> None:
        shown = page(arrived, cast.outsider)
        assert "The sender&#x27;s result" in shown or "The sender's result" in shown
        assert says(shown, "wording.uneven-low", cylinders="cylinder 1")
        assert says(shown, "case.analyse-sender-did")
        assert run.report
        noticed = [f for f in run.report.findings if f.code != "relative-only"]
        assert noticed
        for found in noticed:
            assert finding_aid(found)[0] in html.unescape(shown)
        assert "Inline four" in shown

    def test_a_high_cylinder_is_told_as_high(
        self, arrived: Capture, cast: Cast, page: Callable[..., str]
    ) -> None:
        """Cylinder 1 is weak: 3 fires after it, 2 follows it in number only."""
        rows = arrived.reading.understood["case"]["result"]["cylinders"]
        for row in rows:
            if row["cylinder"] in {2, 3}:
                row |= {"relative": 1.3, "low": 1.25, "high": 1.35, "call": "sound"}
        arrived.reading.save()
        sent = sent_case(cast.outsider, arrived.reading)
        assert sent is not None
        assert [(f.name, f.call) for f in sent.figures] == [
            ("1", "suspect"),
            ("2", "high"),
            ("3", "sound"),
            ("4", "sound"),
        ]
        assert page(arrived, cast.outsider).count('badge-watch">high<') == 1
        assert says(sent.headline, "verdict_headline.high", high="cylinder 2")

    def test_one_press_gives_the_same_figures(
        self, arrived: Capture, run: Run, cast: Cast, client_for: ClientFor
    ) -> None:
        client, token = client_for(cast.outsider), uuid4()
        for _ in range(2):
            answer = client.post(
                reverse("traces:as-sender", args=[arrived.pk]), {"form_token": str(token)}
            )
            assert answer.status_code == 302
        own = Run.objects.get(capture=arrived)
        assert run_analyse(own.pk)
        own.refresh_from_db()
        assert own.setup.engine == run.setup.engine
        assert own.report
        assert run.report
        assert own.report.estimates == run.report.estimates
        assert own.report.verdict == run.report.verdict
        assert own.report.candidates == run.report.candidates
        assert own.report.cranking_rpm == run.report.cranking_rpm
        assert own.report.cycles == run.report.cycles
        shown = client.get(reverse("traces:capture", args=[arrived.pk])).content.decode()
        assert ">Here<" in shown
        assert not says(shown, "case.analyse-sender-did")
        sent = sent_case(cast.outsider, arrived.reading, own.report)
        assert sent is not None
        assert [f.here for f in sent.figures] == pytest.approx(
            [f.relative for f in sent.figures], abs=5e-5
        )

    def test_the_set_up_page_is_filled_in(
        self, arrived: Capture, cast: Cast, client_for: ClientFor, engine: Engine
    ) -> None:
        page = client_for(cast.outsider).get(reverse("traces:setup", args=[arrived.pk]))
        offered = page.context["form"].initial
        assert offered["engine"] == engine.pk
        assert (offered["current_channel"], offered["sync_channel"]) == ("clamp", "sync")
        sync = reference_setup("ref-01.csv").sync
        assert sync is not None
        assert offered["sync_cylinder"] == sync.cylinder
        assert offered["scale"] == "10"
        assert says(page.content.decode(), "cases.filled-from-set-up")

    def test_an_engine_that_is_not_in_the_list_is_asked_for(
        self, arrived: Capture, cast: Cast, client_for: ClientFor
    ) -> None:
        Engine.objects.update(firing_order="1-2-4-3")
        client = client_for(cast.outsider)
        shown = as_read(client.get(reverse("traces:capture", args=[arrived.pk])).content.decode())
        assert not says(shown, "case.analyse-sender-did")
        assert says(shown, "case.no-engine-your-list", firing_order="1-3-4-2")
        with pytest.raises(SetupError) as refused:
            case_run_add(member=cast.outsider, capture=arrived)
        assert says(refused.value, "cases.no-engine-your-list")
        answer = client.post(reverse("traces:as-sender", args=[arrived.pk]), follow=True)
        assert says(answer.content.decode(), "case.no-engine-your-list")
        form = client.get(reverse("traces:setup", args=[arrived.pk])).context["form"]
        assert form.initial.get("engine") is None
        assert form.initial["firing_order"] == "1-3-4-2"

    def test_of_two_that_fire_alike_the_fuel_decides(
        self, arrived: Capture, cast: Cast, engine: Engine, page: Callable[..., str]
    ) -> None:
        first = Engine.objects.create(
            key="another-four", name="Another four", layout="I4", firing_order="1-3-4-2"
        )
        case = case_of(arrived.reading)
        assert case is not None
        other = "diesel" if case.setup.fuel == "petrol" else "petrol"
        for diesel, wanted in ((first, engine), (engine, first)):
            Engine.objects.update(fuel=case.setup.fuel)
            Engine.objects.filter(pk=diesel.pk).update(fuel=other)
            sent = sent_case(cast.outsider, arrived.reading)
            assert sent is not None
            assert sent.engine == wanted
            assert not sent.is_of_other_fuel
        Engine.objects.update(fuel=other)
        shown = " ".join(page(arrived, cast.outsider).split())
        assert says(shown, "case.your-list-sender-counts", fuel=other)
        own = case_run_add(member=cast.outsider, capture=arrived)
        assert own.setup.analysis.fuel == case.setup.fuel

    def test_another_layout_is_another_engine(
        self, arrived: Capture, cast: Cast, engine: Engine
    ) -> None:
        for changes in ({"layout": "F4"}, {"retired": True}):
            Engine.objects.filter(pk=engine.pk).update(
                **{"layout": "I4", "retired": False, **changes}
            )
            sent = sent_case(cast.outsider, arrived.reading)
            assert sent is not None
            assert sent.engine is None, changes

    def test_a_plain_capture_is_no_case(
        self, add_read: Callable[..., Capture], cast: Cast, client_for: ClientFor
    ) -> None:
        capture = add_read(csv_bytes())
        assert sent_case(cast.diagnostician, capture.reading) is None
        answer = client_for(cast.diagnostician).post(
            reverse("traces:as-sender", args=[capture.pk]), follow=True
        )
        assert says(answer.content.decode(), "cases.capture-no-case-colleague")
        assert not Run.objects.filter(capture=capture).exists()


class TestWhoMay:
    def test_only_who_may_analyse_does(
        self, arrived: Capture, cast: Cast, client_for: ClientFor
    ) -> None:
        address = reverse("traces:as-sender", args=[arrived.pk])
        assert client_for(cast.both_there).post(address).status_code == 403
        assert client_for(cast.diagnostician).post(address).status_code == 404
        assert client_for(cast.outsider).get(address).status_code == 405
        assert not Run.objects.filter(capture=arrived).exists()
        assert client_for(cast.other_owner).post(address).status_code == 302
        assert Run.objects.filter(capture=arrived).count() == 1

    def test_a_mechanic_sees_the_result_and_no_button(
        self, arrived: Capture, cast: Cast, page: Callable[..., str]
    ) -> None:
        shown = page(arrived, cast.both_there)
        assert says(shown, "wording.uneven-low", cylinders="cylinder 1")
        assert not says(shown, "case.analyse-sender-did")


def _marked_everywhere(models: list[type[Model]]) -> int:
    """Write a mark into every text of all rows that takes any text; return into how many."""
    marked = 0
    for model in models:
        for row in model._base_manager.all():
            for field in model._meta.fields:
                plain = isinstance(field, CharField | TextField) and not field.choices
                if not plain or field.unique or field.name in _NEEDED:
                    continue
                text = f"{row.pk} {_MARK}"[: field.max_length or 200]
                model._base_manager.filter(pk=row.pk).update(**{field.name: text})
                marked += 1
    return marked


# What work itself is told by; none of them is text that anybody types.
_NEEDED = frozenset(
    {
        "firing_order",
        "samples_file",
        "sha256",
        "code_version",
        "verdict",
        "original",
        "key",
        "shape",
    }
)


def test_nobodys_name_is_in_a_case(
    add_read: Callable[..., Capture], cast: Cast, engine: Engine
) -> None:
    """Everything that can hold a name holds a mark; not a byte of the case does."""
    lines = reference("ref-01.csv").read_text().splitlines()
    first = next(i for i, line in enumerate(lines) if line[:1].isdigit())
    heads = [f"Time,{_MARK} clamp,{_MARK} sync", "s,V,V"]
    start = 1_764_000_000
    rows = []
    for line in lines[first:]:
        time, *values = line.split(",")
        rows.append(",".join([f"{start + float(time):.6f}", *values[:2]]))
    text = "\n".join([f"# recorded by {_MARK}", *heads, *rows]) + "\n"
    capture = add_read(text.encode(), name=f"{_MARK} AB-12 CD.csv")
    names = [c["name"] for c in capture.reading.channels]
    assert any(_MARK in name for name in names), names
    plain = reference_setup("ref-01.csv")
    assert plain.sync is not None
    setup = replace(plain, current_channel=names[0], sync=replace(plain.sync, channel=names[1]))
    run = run_add(
        member=cast.diagnostician,
        capture=capture,
        analysis=setup,
        engine=engine,
        conditions=Conditions(fuel_off=True, throttle="closed", battery_v=12.4),
    )
    assert run_analyse(run.pk)
    PinnedNote.objects.create(capture=capture, at_s=1.0, text=_MARK, created_by=cast.diagnostician)
    apps_of = ("people", "engines", "traces")
    models = [m for m in apps.get_models() if m._meta.app_label in apps_of and m is not PinnedNote]
    assert _marked_everywhere(models) > 10
    run = Run.objects.select_related("setup__engine", "reading", "capture").get(pk=run.pk)
    assert run.setup.engine
    assert _MARK in f"{run.capture.label} {run.setup.engine.name}"
    assert run.report
    assert _MARK in json.dumps(run.report.to_json())
    written = run_case(run, "whole")
    assert written is not None
    assert _MARK.casefold() not in written.name.casefold()
    with written.file:
        content = written.file.read()
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    for told in (content, *members.values()):
        lower = told.lower()
        for mark in (_MARK.lower(), _MARK.lower()[:10], "ab-12", "recorded by"):
            assert mark.encode() not in lower
            assert mark.encode("utf-16-le") not in lower
    manifest = json.loads(members["manifest.json"])
    assert manifest["reading"]["start_s"] == 0.0
    assert str(start)[:5] not in members["manifest.json"].decode()
    assert str(start)[:5] not in members["result.json"].decode()
    assert manifest["conditions"]["battery_v"] == 12.4
    assert manifest["engine"]["layout"] == "I4"


def _case_from_elsewhere() -> bytes:
    """Return a case of a simulated crank, made without any database."""
    drawn = draw(3, "I4", "one", None, "a", sync="720")
    simulated = simulate(drawn)
    setup = drawn.setup()
    report = judge(simulated.waveform, setup)
    case = Case(
        setup=with_parts(setup),
        conditions=Conditions(fuel_off=True),
        layout="I4",
        channels=(CaseChannel("clamp", "V"), CaseChannel("sync", "V")),
        read_as="WAV",
        rate_hz=simulated.waveform.rate_hz,
        start_s=0.0,
        samples=0,
        full_scale=False,
        part="whole",
        sha256="",
        code_version="0.0.9",
        result=told_result(report, {"a": "clamp", "b": "sync"}, 0.0),
    )
    file = io.BytesIO()
    write_case(file, case, simulated.waveform.channels[:2])
    return file.getvalue()


def test_an_installation_that_never_saw_the_sender_gets_the_same_figures(
    add_read: Callable[..., Capture], cast: Cast, engine: Engine, page: Callable[..., str]
) -> None:
    content = _case_from_elsewhere()
    capture = add_read(content, name="from a colleague.zip")
    case = case_of(capture.reading)
    assert case is not None
    Engine.objects.filter(pk=engine.pk).update(
        firing_order=str(case.setup.firing_order), fuel=case.setup.fuel
    )
    own = case_run_add(member=cast.diagnostician, capture=capture)
    assert run_analyse(own.pk)
    own.refresh_from_db()
    assert own.report
    assert own.report.verdict == case.result["verdict"] == "uneven"
    published = own.report.to_json()
    for part in ("cylinders", "positions", "candidates", "cranking_rpm", "cycles"):
        assert published[part] == case.result[part], part
    assert "Code version 0.0.9" in page(capture)


def test_a_case_of_a_case_is_the_same(
    arrived: Capture, run: Run, cast: Cast, add_read: Callable[..., Capture]
) -> None:
    own = case_run_add(member=cast.outsider, capture=arrived)
    assert run_analyse(own.pk)
    own.refresh_from_db()
    again = add_read(_content(own), cast.diagnostician, name="back again.zip")
    first, second = case_of(arrived.reading), case_of(again.reading)
    assert first is not None
    assert second is not None
    assert second.sha256 == first.sha256
    assert second.result == first.result
    assert second.setup == first.setup
    assert CaptureSetup.objects.filter(capture=arrived).count() == 1
