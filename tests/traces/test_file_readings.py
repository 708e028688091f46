"""A file read anew as corrected by hand, and files of one shape read as that was."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from django.utils import timezone

from shopdiag.people.core.words import worded
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes, csv_setup, reference
from tests.wording import says, says_only
from traces.core.readers import Correction
from traces.core.readers.correction import ChannelCorrection, TextCorrection
from traces.core.readers.storing import files_of
from traces.core.waveform import is_same_recording
from traces.models import Capture, FileShape, Reading, Work
from traces.runs.analysing import run_analyse
from traces.runs.reading import reading_read
from traces.selectors.readings import file_page, first_lines, shape_remembered
from traces.selectors.samples import stored_samples
from traces.services import reading_correct, reading_take_again, run_add, shape_forget

AddRead = Callable[..., Capture]

HEAD = "Logger: yellow box\nRecorded: 2031-05-04\nTime;A;B\n"
IN_MS = Correction(
    text=TextCorrection(time_unit="ms"), channels=(ChannelCorrection(1, "clamp", "V", 0.001),)
)


def _log(rows: int = 30, start: int = 0) -> bytes:
    return (HEAD + "".join(f"{i};{1000 + (i + start) % 9};{i % 2}\n" for i in range(rows))).encode()


def _correct(capture: Capture, member: Member, correction: Correction = IN_MS) -> Reading:
    """Say what a file is and read it as the worker would."""
    reading = reading_correct(member=member, capture=capture, correction=correction)
    reading_read(reading.pk)
    reading.refresh_from_db()
    return reading


def _fresh(capture: Capture) -> Capture:
    return Capture.objects.select_related("current_reading").get(pk=capture.pk)


class TestReadingAnew:
    def test_the_file_is_read_as_said_and_the_old_reading_stays(
        self, add_read: AddRead, cast: Cast, media: Path
    ) -> None:
        capture = add_read(_log())
        before = capture.reading
        assert before.understood["rate_hz"] == 1.0
        after = _correct(capture, cast.diagnostician)
        assert (after.state, after.asked_by) == (Work.State.DONE, cast.diagnostician)
        assert after.understood["rate_hz"] == 1000.0
        assert [c["name"] for c in after.channels] == ["clamp", "B"]
        assert after.channels[0]["maximum"] == pytest.approx(1.008)
        assert _fresh(capture).reading == after
        # both readings' samples are there
        assert stored_samples(before).values[0, 0] == 1000
        assert stored_samples(after).values[0, 0] == 1
        kept = {media / one.samples_file for one in (before, after)}
        assert set((media / "derived").rglob("*.npy")) == {f for k in kept for f in files_of(k)}

    def test_the_current_one_counts_until_the_new_one_is_done(
        self, add_read: AddRead, cast: Cast
    ) -> None:
        capture = add_read(_log())
        asked = reading_correct(member=cast.diagnostician, capture=capture, correction=IN_MS)
        assert _fresh(capture).reading == capture.reading
        page = file_page(_fresh(capture))
        assert (page.current, page.newest, page.failed) == (capture.reading, asked, None)
        assert not FileShape.objects.exists()

    def test_one_that_fails_leaves_everything(self, add_read: AddRead, cast: Cast) -> None:
        capture = add_read(_log())
        said = Correction(text=TextCorrection(first_row_line=2))
        failed = _correct(capture, cast.diagnostician, said)
        assert failed.state == Work.State.FAILED
        assert says(failed.error, "text_corrected.line-no-row-numbers", line=2)
        page = file_page(_fresh(capture))
        assert (page.current, page.failed) == (capture.reading, failed)
        assert page.to_correct == said
        assert not FileShape.objects.exists()

    def test_asked_twice_it_is_read_once(self, add_read: AddRead, cast: Cast) -> None:
        capture = add_read(_log())
        asked = [
            reading_correct(member=cast.diagnostician, capture=capture, correction=IN_MS)
            for _ in range(2)
        ]
        assert asked[0] == asked[1]
        other = reading_correct(
            member=cast.diagnostician, capture=capture, correction=Correction(rate_hz=5.0)
        )
        assert other != asked[0]

    def test_of_two_the_later_counts_whichever_is_done_first(
        self, add_read: AddRead, cast: Cast
    ) -> None:
        capture = add_read(_log())
        first, second = (
            reading_correct(
                member=cast.diagnostician, capture=capture, correction=Correction(rate_hz=rate)
            )
            for rate in (5.0, 7.0)
        )
        assert reading_read(second.pk)
        assert reading_read(first.pk)
        assert _fresh(capture).reading == second
        # what was said first and done last is nothing to read later files with
        assert [row.correction for row in FileShape.objects.all()] == [second.correction]

    def test_a_file_that_could_not_be_read_at_all(self, add_read: AddRead, cast: Cast) -> None:
        capture = add_read(b"Zeit,A\n0,5,1,25\n0,6,1,5\n0,7,1,75\n")
        assert capture.reading.state == Work.State.FAILED
        assert first_lines(capture)[1] == {"line": 2, "text": "0,5,1,25"}
        said = Correction(
            text=TextCorrection(delimiter=",", heading_line=0, time_column=0), rate_hz=10.0
        )
        after = _correct(capture, cast.diagnostician, said)
        assert after.state == Work.State.DONE
        assert _fresh(capture).reading == after
        # the next one like it is read at once
        assert add_read(b"Zeit,A\n1,5,2,25\n1,6,2,5\n").reading.correction == said.to_json()

    def test_first_lines_of_what_is_no_text(self, add_read: AddRead) -> None:
        assert first_lines(add_read(b"RIFF\x00\x00\x00\x00WAVEfmt ", name="a.wav")) == []

    def test_a_run_keeps_the_reading_it_was_made_from(self, add_read: AddRead, cast: Cast) -> None:
        capture = add_read(csv_bytes())
        setup = csv_setup()
        run = run_add(member=cast.diagnostician, capture=capture, analysis=setup)
        run_analyse(run.pk)
        run.refresh_from_db()
        before = run.result
        _correct(capture, cast.diagnostician, Correction(rate_hz=100.0))
        later = run_add(member=cast.diagnostician, capture=capture, analysis=setup)
        assert (run.reading, later.reading) == (capture.reading, _fresh(capture).reading)
        page = file_page(_fresh(capture))
        assert later.reading_id in page.same_samples
        assert run.reading_id not in page.same_samples
        # the same run done again would still see the samples of its own reading
        type(run).objects.filter(pk=run.pk).update(state=Work.State.QUEUED, result=None)
        assert run_analyse(run.pk)
        run.refresh_from_db()
        assert run.result == before


class TestTakingAgain:
    def test_the_earlier_one_counts_again_by_a_new_row(self, add_read: AddRead, cast: Cast) -> None:
        capture = add_read(_log())
        before, after = capture.reading, _correct(capture, cast.diagnostician)
        again = reading_take_again(member=cast.owner, reading=before)
        current = _fresh(capture).reading
        assert current == again
        assert again.pk not in (before.pk, after.pk)
        assert (again.asked_by, again.correction) == (cast.owner, {})
        assert again.understood == before.understood
        page = file_page(_fresh(capture))
        assert page.same_samples == {before.pk, again.pk}
        assert page.earlier == (after,)
        # a reading that comes later removes nobody's samples
        _correct(capture, cast.diagnostician, Correction(rate_hz=3.0))
        for one in (before, after, again):
            assert stored_samples(one).values.shape == (2, 30)

    def test_the_current_one_is_not_taken_twice(self, add_read: AddRead, cast: Cast) -> None:
        capture = add_read(_log())
        reading_take_again(member=cast.owner, reading=capture.reading)
        assert Reading.objects.count() == 1


class TestFilesOfOneShape:
    def test_the_next_export_is_read_as_corrected(self, add_read: AddRead, cast: Cast) -> None:
        first = add_read(_log())
        _correct(first, cast.diagnostician)
        row = FileShape.objects.get()
        assert (row.shop, row.created_by) == (cast.shop, cast.diagnostician)
        assert (row.learned_from, row.correction) == (first, IN_MS.to_json())
        second = add_read(_log(50, start=4), member=cast.owner)
        assert second.reading.understood["rate_hz"] == 1000.0
        assert second.reading.correction == IN_MS.to_json()
        assert second.reading.asked_by is None
        page = file_page(second)
        assert (page.recalled, page.remembered) == (row, row)
        name = "readings.read-corrected-files-shape"
        assert says_only(page.recalled_words, name, correction_words=IN_MS.words)

    def test_another_layout_and_another_shop_are_not(self, add_read: AddRead, cast: Cast) -> None:
        _correct(add_read(_log()), cast.diagnostician)
        other = add_read(_log().replace(b"Logger", b"Device"))
        assert other.reading.correction == {}
        theirs = add_read(_log(40), member=cast.other_owner)
        assert theirs.reading.correction == {}
        assert theirs.reading.shape == FileShape.objects.get().shape
        assert shape_forget(member=cast.other_owner, shape=theirs.reading.shape) == 0

    def test_the_newest_counts(self, add_read: AddRead, cast: Cast) -> None:
        first = add_read(_log())
        _correct(first, cast.diagnostician)
        _correct(first, cast.owner, Correction(rate_hz=50.0))
        assert add_read(_log(40)).reading.understood["rate_hz"] == 50.0

    def test_forgotten_all_of_the_shape_is(self, add_read: AddRead, cast: Cast) -> None:
        first = add_read(_log())
        _correct(first, cast.diagnostician)
        _correct(first, cast.owner, Correction(rate_hz=50.0))
        between = add_read(_log(40))
        assert shape_forget(member=cast.owner, shape=first.reading.shape) == 2
        assert FileShape.objects.count() == 2
        assert shape_remembered(cast.shop.pk, first.reading.shape) is None
        assert add_read(_log(50)).reading.correction == {}
        # how the one between was read can still be told
        page = file_page(_fresh(between))
        assert page.remembered is None
        assert page.recalled is not None
        assert page.recalled.created_by == cast.owner

    def test_as_it_is_forgets_nothing(self, add_read: AddRead, cast: Cast) -> None:
        _correct(add_read(_log()), cast.diagnostician)
        second = add_read(_log(50))
        plain = _correct(second, cast.owner, Correction())
        assert (plain.correction, plain.understood["rate_hz"]) == ({}, 1.0)
        assert FileShape.objects.count() == 1
        assert add_read(_log(60)).reading.understood["rate_hz"] == 1000.0

    def test_what_does_not_fit_is_read_as_it_is_and_says_so(
        self, add_read: AddRead, cast: Cast
    ) -> None:
        first = add_read(_log())
        _correct(first, cast.diagnostician, Correction(text=TextCorrection(first_row_line=20)))
        short = add_read(_log(5))
        assert short.reading.state == Work.State.DONE
        assert short.reading.correction == {}
        said = worded(short.reading.understood["notes"][-1])
        assert says(said, "reading.what-corrected-files-shape", why="There is no line 20")

    @pytest.mark.parametrize("stored", [{"later": 1}, ["x"], {"rate_hz": -1}])
    def test_a_row_of_another_version_is_passed_over(
        self, add_read: AddRead, cast: Cast, stored: Any
    ) -> None:
        first = add_read(_log())
        FileShape.objects.create(
            shop=cast.shop,
            shape=first.reading.shape,
            correction=stored,
            learned_from=first,
            created_by=cast.owner,
        )
        assert add_read(_log(40)).reading.understood["rate_hz"] == 1.0

    def test_sound_too(self, add_read: AddRead, cast: Cast, tmp_path: Path) -> None:
        def wav(samples: int) -> bytes:
            path = tmp_path / "a.wav"
            soundfile.write(path, 0.5 * np.ones((samples, 2)), 8000)
            return path.read_bytes()

        channels = (ChannelCorrection(1, "clamp", "V", 5.0), ChannelCorrection(2, left_out=True))
        _correct(add_read(wav(90), name="a.wav"), cast.diagnostician, Correction(channels=channels))
        second = add_read(wav(200), name="b.wav").reading
        assert [(c["name"], c["unit"]) for c in second.channels] == [("clamp", "V")]
        assert second.channels[0]["maximum"] == pytest.approx(2.5, rel=1e-3)
        assert not second.understood["full_scale"]

    def test_a_row_made_later_is_not_what_a_file_was_read_with(
        self, add_read: AddRead, cast: Cast
    ) -> None:
        _correct(add_read(_log()), cast.diagnostician)
        second = add_read(_log(50))
        row = FileShape.objects.get()
        FileShape.objects.create(
            shop=cast.shop,
            shape=row.shape,
            correction=row.correction,
            learned_from=second,
            created_by=cast.owner,
            created_at=timezone.now() + timedelta(hours=1),
        )
        assert file_page(second).recalled == row


def test_a_file_written_anew_keeps_the_sketch_of_its_recording(add_read: AddRead) -> None:
    whole = reference("ref-03.csv").read_bytes()
    rows = whole.splitlines(keepends=True)
    other = reference("ref-05.csv").read_bytes()
    first, blank, cut, another = (
        add_read(content, name=f"{n}.csv").reading.sketch
        for n, content in enumerate((whole, whole + b"\n", b"".join(rows[:-400]), other))
    )
    assert is_same_recording(first, blank)
    assert is_same_recording(first, cut)
    assert not is_same_recording(first, another)
