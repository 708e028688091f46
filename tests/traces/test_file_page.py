"""What a file was understood as, on its page: shown, corrected by hand, taken again, forgotten."""

import html
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from engines.core.firing import FiringOrder
from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes, csv_setup
from tests.traces.core.readers import files
from tests.traces.test_file_readings import _correct, _fresh, _log
from tests.wording import named, says
from traces.core.readers import Correction
from traces.core.readers.correction import ChannelCorrection, TextCorrection
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.models import Capture, FileShape, Reading, Run, Work
from traces.runs.analysing import run_analyse
from traces.runs.reading import reading_read
from traces.services import reading_take_again, run_add

AddRead = Callable[..., Capture]
Show = Callable[..., str]


@pytest.fixture
def client(client_for: Callable[[Member], Client], cast: Cast) -> Client:
    return client_for(cast.diagnostician)


def _post(client: Client, capture: Capture, name: str = "file", **said: Any) -> Any:
    return client.post(reverse(f"traces:{name}", args=[capture.pk]), said)


def _plain(page: str) -> str:
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page)))


class TestWhatIsShown:
    def test_channels_rate_length_and_first_rows(self, add_read: AddRead, page: Show) -> None:
        text = page(add_read(csv_bytes()))
        plain = _plain(text)
        assert "Is this right?" in plain
        assert "Read as delimited text" in plain
        assert "Rate 1000 Hz" in plain
        assert "Length 1 s, 1,000 samples" in plain
        assert says(plain, "file_words.columns-parted", delimiters="comma")
        assert says(plain, "file_words.headings-line", heading=1)
        assert says(plain, "file_words.numbers-from-line", first_row_line=3)
        assert says(plain, "file_words.times-column", column=1, unit="seconds.")
        rows = re.findall(r'<th scope="row" data-label="Time \(s\)">([^<]+)</th>', text)
        assert rows == ["0", "0.001", "0.002", "0.003", "0.004", "0.005"]
        first = csv_bytes().splitlines()[2].decode().split(",")
        assert f'data-label="clamp">{float(first[1]):g}</td>' in text
        assert re.search(r'data-label="Channel">clamp</th><td data-label="Unit">V</td>', text)

    def test_nothing_is_called_minus_zero(self, add_read: AddRead, page: Show) -> None:
        rows = "".join(f"{i / 1000:.3f},-0.0\n" for i in range(500))
        text = page(add_read(f"Time [s],clamp [V]\n{rows}".encode()))
        assert 'data-label="clamp">0</td>' in text
        assert ">-0<" not in text

    def test_after_an_analysis_it_is_folded(
        self, add_read: AddRead, page: Show, cast: Cast
    ) -> None:
        capture = add_read(csv_bytes())
        run_add(member=cast.diagnostician, capture=capture, analysis=csv_setup())
        text = page(capture)
        assert "Is this right?" not in text
        assert says(text, "file.what-file-understood")

    def test_a_file_without_rate_says_so(self, add_read: AddRead, page: Show) -> None:
        plain = _plain(page(add_read(b"A;B\n1;2\n3;4\n")))
        assert "Rate not known" in plain
        assert "Length 2 samples" in plain
        assert says(plain, "file_words.no-column-times")

    @pytest.mark.parametrize("role", [Role.MECHANIC, Role.WRITER])
    def test_who_may_not_correct_is_not_offered_it(
        self, add_read: AddRead, page: Show, cast: Cast, role: Role
    ) -> None:
        capture = add_read(_log())
        _correct(capture, cast.diagnostician)
        assert "/file/" in page(capture)
        text = page(capture, cast.insiders[role])
        assert "/file/" not in text
        assert "Corrected by" in text

    def test_a_reading_of_an_earlier_version_is_shown(self, add_read: AddRead, page: Show) -> None:
        capture = add_read(csv_bytes())
        understood = capture.reading.understood
        del understood["preview"]
        Reading.objects.update(understood=understood)
        assert "Is this right?" in page(capture)
        assert "Channel 1: clamp (V)" in _plain(page(capture, name="traces:file"))


class TestTheForm:
    def test_it_shows_the_first_lines_and_what_was_found(
        self, add_read: AddRead, page: Show
    ) -> None:
        capture = add_read(_log().replace(b";", b"\t"))
        plain = _plain(page(capture, name="traces:file"))
        assert "Logger: yellow box" in plain
        assert "Time⇥ A⇥ B" in plain
        assert "As found: tab" in plain
        assert "Now: 1, “Time”." in plain
        assert "Now: 1 Hz." in plain

    def test_what_a_file_says_is_never_markup(self, add_read: AddRead, page: Show) -> None:
        capture = add_read(b"<script>alert(1)</script>\nTime;<b>A</b>\n0;1\n1;2\n")
        for text in (page(capture), page(capture, name="traces:file")):
            assert "<script>alert" not in text
            assert "<b>A</b>" not in text

    def test_said_and_read_anew(
        self, add_read: AddRead, page: Show, client: Client, cast: Cast
    ) -> None:
        capture = add_read(_log())
        answer = _post(
            client,
            capture,
            time_unit="ms",
            name_1="clamp",
            unit_1="V",
            factor_1="0.001",
            left_out_2="on",
            next="/elsewhere/",
        )
        assert (answer.status_code, answer.headers["Location"]) == (302, "/elsewhere/")
        asked = Reading.objects.get(asked_by=cast.diagnostician)
        channels = (ChannelCorrection(1, "clamp", "V", 0.001), ChannelCorrection(2, left_out=True))
        said = Correction(text=TextCorrection(time_unit="ms"), channels=channels)
        assert asked.correction == said.to_json()
        text = page(capture)
        assert says(text, "state.reading-file-anew")
        assert 'hx-trigger="every 1s"' in text
        # what is being read cannot be corrected at the same time
        form = client.get(reverse("traces:file", args=[capture.pk]))
        assert form.status_code == 302
        reading_read(asked.pk)
        plain = _plain(page(capture))
        assert not says(plain, "state.reading-file-anew")
        assert f"Corrected by {cast.diagnostician.name}" in plain
        assert says(plain, "correction.times", unit="milliseconds;")
        changes = "called “clamp”, in V, times 0.001"
        assert says(plain, "correction.channel", number=1, changes=changes)
        assert "Rate 1000 Hz" in plain
        # the form begins with what was said
        form_text = page(capture, name="traces:file")
        assert 'name="factor_1" value="0.001"' in form_text
        assert '<option value="ms" selected>' in form_text

    @pytest.mark.parametrize(
        ("name", "value", "sentence"),
        [
            ("rate_hz", "0", "A sample rate is a number of hertz over 0"),
            ("rate_hz", "fast", "Type the sample rate as a number of hertz"),
            ("start_s", "1e15", "The start is a time in seconds"),
            ("heading_line", "-1", "Type a whole number from 0"),
            ("first_row_line", "0", "Type a whole number from 1"),
            ("time_column", "x", "Type a whole number from 0"),
            ("delimiter", "colon", "is not in it"),
            ("factor_1", "0", "A channel's factor is a number other than 0"),
            ("factor_2", "much", "Type a number, like 0.001."),
            ("unit_1", "V" * 21, "at most 20 characters"),
            ("name_2", "a\u202eb", "plain characters"),
        ],
        ids=lambda value: str(value)[:24].encode("ascii", "replace").decode(),
    )
    def test_a_mistake_stands_at_its_field_and_loses_nothing(
        self, add_read: AddRead, client: Client, name: str, value: str, sentence: str
    ) -> None:
        capture = add_read(_log())
        said = {"name_1": "clamp", "unit_2": "V", "decimal": "comma"} | {name: value}
        answer = _post(client, capture, **said)
        text = answer.content.decode()
        assert answer.status_code == 422
        assert sentence in html.unescape(text)
        assert f'href="#id_{name}"' in text
        if name != "name_1":
            assert 'value="clamp"' in text
        assert '<option value="comma" selected>' in text
        assert Reading.objects.count() == 1

    @pytest.mark.parametrize(
        ("said", "sentence"),
        [
            (
                {"heading_line": "4", "first_row_line": "4"},
                named("correction.headings-stand-above-first"),
            ),
            (
                {"time_column": "0", "time_unit": "ms"},
                named("correction.without-column-times-there"),
            ),
        ],
        ids=["lines", "unit"],
    )
    def test_contradictions(
        self, add_read: AddRead, client: Client, said: dict[str, str], sentence: str
    ) -> None:
        answer = _post(client, add_read(_log()), **said)
        assert answer.status_code == 422
        assert says(answer.content.decode(), sentence)

    def test_one_that_fails_says_why_and_keeps_what_was_typed(
        self, add_read: AddRead, page: Show, client: Client
    ) -> None:
        capture = add_read(_log())
        _post(client, capture, first_row_line="2", name_1="clamp")
        reading_read(Reading.objects.latest("pk").pk)
        plain = _plain(page(capture))
        assert says(plain, "text_corrected.line-no-row-numbers", line=2)
        assert says(plain, "file.corrected-hand-file-could")
        assert "Rate 1 Hz" in plain
        form = page(capture, name="traces:file")
        assert says(form, "text_corrected.line-no-row-numbers", line=2)
        assert 'name="first_row_line" value="2"' in form
        assert 'name="name_1" value="clamp"' in form

    def test_a_file_that_could_not_be_read(
        self, add_read: AddRead, page: Show, client: Client
    ) -> None:
        capture = add_read(b"Zeit,A\n0,5,1,25\n0,6,1,5\n0,7,1,75\n")
        assert says(page(capture), "file.correct-hand")
        form = _plain(page(capture, name="traces:file"))
        assert says(form, "text_layout.comma-parts-columns-decimal")
        assert "0,5,1,25" in form
        _post(client, capture, delimiter="comma", heading_line="0", time_column="0", rate_hz="10")
        reading_read(Reading.objects.latest("pk").pk)
        plain = _plain(page(capture))
        assert "The comma parts" not in plain
        assert "Rate 10 Hz" in plain
        assert says(plain, "case.set-up-analysis")

    def test_what_is_no_text_is_not_asked_how_it_is_taken_apart(
        self, add_read: AddRead, page: Show
    ) -> None:
        form = _plain(page(add_read(files.content("WAV"), name="a.wav"), name="traces:file"))
        assert "Between columns" not in form
        assert "Sample rate" in form
        assert "Channel 2: 2" in form

    def test_a_rate_typed_here_is_not_asked_in_the_set_up(
        self, add_read: AddRead, page: Show, client: Client
    ) -> None:
        capture = add_read(b"A;B\n" + b"".join(b"%d;%d\n" % (i % 7, i % 3) for i in range(200)))
        assert 'name="rate_hz"' in page(capture, name="traces:setup")
        _post(client, capture, rate_hz="500")
        reading_read(Reading.objects.latest("pk").pk)
        assert 'name="rate_hz"' not in page(capture, name="traces:setup")


class TestWaysBack:
    def test_as_it_is_take_again_and_forget(
        self, add_read: AddRead, page: Show, client: Client, cast: Cast
    ) -> None:
        first = add_read(_log())
        _correct(first, cast.diagnostician)
        second = add_read(_log(50))
        plain = _plain(page(second))
        name = cast.diagnostician.name
        assert says(
            plain,
            "readings.read-corrected-files-shape",
            created_by=name,
        )
        assert "times in milliseconds" in plain
        assert says(plain, "file.forget-later-files")

        assert _post(client, second, "file-as-it-is").status_code == 302
        reading_read(Reading.objects.latest("pk").pk)
        plain = _plain(page(second))
        assert "Rate 1 Hz" in plain
        assert not says(plain, "readings.read-corrected-files-shape")

        found = re.search(r'name="reading" value="(\d+)"', page(second))
        assert found
        assert int(found[1]) == second.reading.pk
        assert _post(client, second, "file-take-again", reading=found[1]).status_code == 302
        assert "Rate 1000 Hz" in _plain(page(second))

        assert _post(client, second, "file-forget").status_code == 302
        assert FileShape.objects.filter(forgotten_at=None).count() == 0
        assert not says(page(second), "file.forget-later-files")
        assert add_read(_log(60)).reading.correction == {}

    def test_of_another_capture_or_shop_nothing_is_taken(
        self, add_read: AddRead, client: Client, cast: Cast
    ) -> None:
        one, other = add_read(_log()), add_read(csv_bytes())
        theirs = add_read(_log(40), member=cast.other_owner)
        for reading in (other.reading, theirs.reading):
            assert _post(client, one, "file-take-again", reading=reading.pk).status_code == 404
        assert _post(client, one, "file-take-again", reading="x").status_code == 302
        assert _fresh(one).reading == one.reading
        failed = Reading.objects.create(capture=one, state=Work.State.FAILED)
        assert _post(client, one, "file-take-again", reading=failed.pk).status_code == 404

    def test_what_another_shop_said_is_not_forgotten_here(
        self, add_read: AddRead, client: Client, cast: Cast
    ) -> None:
        _correct(add_read(_log(), member=cast.other_owner), cast.other_owner)
        _post(client, add_read(_log(40)), "file-forget")
        assert FileShape.objects.get().forgotten_at is None

    def test_runs_of_an_earlier_reading_say_so(
        self, add_read: AddRead, page: Show, cast: Cast
    ) -> None:
        capture = add_read(csv_bytes())
        setup = csv_setup()
        run = run_add(member=cast.diagnostician, capture=capture, analysis=setup)
        Run.objects.filter(pk=run.pk).update(state=Work.State.FAILED)
        words = "made before the file was read anew"
        assert words not in page(capture)
        _correct(capture, cast.diagnostician, Correction(rate_hz=100.0))
        assert words in page(capture)
        run_add(member=cast.diagnostician, capture=capture, analysis=setup)
        assert page(capture).count(words) == 1
        # the newest, listed first, where the samples of the first reading count again
        reading_take_again(member=cast.owner, reading=capture.reading)
        assert page(capture).count(words) == 1
        assert page(capture).index(words) < page(capture).index(
            reverse("traces:run", args=[capture.pk, run.pk])
        )

    def test_no_inline_style_or_script(self, add_read: AddRead, page: Show) -> None:
        capture = add_read(_log())
        for name in ("traces:capture", "traces:file"):
            text = page(capture, name=name)
            assert not re.search(r"<[^>]+\sstyle=", text)
            assert not re.search(r"<script(?![^>]*\ssrc=)", text)


def test_samples_that_are_gone_come_back_by_reading_the_file_again(
    add_read: AddRead, client: Client, media: Path, cast: Cast
) -> None:
    capture = add_read(csv_bytes(6.0))
    for path in (media / "derived").rglob("*.npy"):
        path.unlink()
    # the page that asks for the set-up still stands, with the channels and without their curves
    text = client.get(reverse("traces:setup", args=[capture.pk])).content.decode()
    assert 'value="clamp"' in text
    setup = AnalysisSetup(FiringOrder.parse("1-3-4-2"), current_channel="clamp", mv_per_a=10.0)
    run = run_add(member=cast.diagnostician, capture=capture, analysis=setup)
    assert not run_analyse(run.pk)
    run.refresh_from_db()
    assert says(run.error, "samples.samples-capture-not-server")
    assert says(
        client.get(reverse("traces:capture", args=[capture.pk])).content.decode(),
        "file.correct-hand",
    )
    assert _post(client, capture).status_code == 302
    assert reading_read(Reading.objects.latest("pk").pk)
    again = run_add(member=cast.diagnostician, capture=capture, analysis=setup)
    assert run_analyse(again.pk)
