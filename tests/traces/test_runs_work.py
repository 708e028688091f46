"""What the worker does for a row, and how the kinds of trouble are told apart."""

import errno
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from uuid import uuid4

import numpy as np
import pytest
from billiard.exceptions import SoftTimeLimitExceeded
from django.db import OperationalError

from shopdiag.people.core.words import Text
from tests.conftest import Cast
from tests.traces.conftest import csv_bytes, csv_setup, reference, reference_line, reference_setup
from tests.wording import says
from traces.core.readers import ReadError
from traces.core.waveform.summaries import summary_of
from traces.models import Capture, Reading, Run, Work
from traces.runs import carrying
from traces.runs.analysing import run_analyse
from traces.runs.carrying import NO_ROOM, OUR_FAULT, TOO_LONG, carry_out
from traces.runs.claims import finish
from traces.runs.reading import reading_read
from traces.selectors.samples import stored_samples, waveform_of
from traces.services import run_add


def test_reading_keeps_a_compact_copy_and_what_was_understood(
    reading: Reading, media: Path
) -> None:
    assert reading_read(reading.pk)
    reading.refresh_from_db()
    assert reading.state == Work.State.DONE
    assert reading.understood["file"] == "crank.csv"
    assert reading.understood["rate_hz"] == 1000
    assert [(c["name"], c["unit"]) for c in reading.channels] == [("clamp", "V"), ("coil", "V")]
    samples = stored_samples(reading)
    assert samples.values.shape == (2, 1000)
    assert samples.values.dtype == np.float32
    assert samples.blocks.shape == (2, 2, 4)
    rows = [line.split(b",") for line in csv_bytes().splitlines()[2:]]
    assert samples.values[0] == pytest.approx([float(r[1]) for r in rows])
    assert (media / reading.samples_file).parent == media / "derived" / str(reading.capture_id)


def test_reading_twice_does_the_work_once(reading: Reading, media: Path) -> None:
    assert reading_read(reading.pk)
    assert not reading_read(reading.pk)
    assert len(list((media / "derived").rglob("*.npy"))) == 3


def test_what_an_earlier_attempt_left_behind_is_removed(reading: Reading, media: Path) -> None:
    folder = media / "derived" / str(reading.capture_id)
    folder.mkdir(parents=True)
    (folder / "0123abcd.npy").write_bytes(b"half a copy")
    assert reading_read(reading.pk)
    assert len(list(folder.iterdir())) == 3
    assert not (folder / "0123abcd.npy").exists()


def test_a_copy_that_another_worker_begins_meanwhile_stays(
    reading: Reading, media: Path, monkeypatch
) -> None:
    folder = media / "derived" / str(reading.capture_id)
    other = Reading.objects.create(capture=reading.capture, state=Work.State.RUNNING)
    begun: list[Path] = []
    glob = Path.glob

    def glob_late(path: Path, pattern: str) -> Iterator[Path]:
        if path == folder and not begun:
            token = uuid4()
            Reading.objects.filter(pk=other.pk).update(attempt_token=token)
            begun.append(folder / f"{token.hex}.npy")
            begun[0].write_bytes(b"half a copy")
        return iter(list(glob(path, pattern)))

    monkeypatch.setattr(Path, "glob", glob_late)
    assert reading_read(reading.pk)
    assert begun[0].exists()


def test_a_copy_made_for_a_row_that_was_taken_over_is_removed(
    reading: Reading, media: Path, monkeypatch
) -> None:
    def too_late(model, pk, token, **columns):
        Reading.objects.filter(pk=pk).update(attempt_token=None)
        return finish(model, pk, token, **columns)

    monkeypatch.setattr(carrying, "finish", too_late)
    assert not reading_read(reading.pk)
    assert not list((media / "derived").rglob("*.npy"))


def test_a_file_that_is_gone_is_told(reading: Reading) -> None:
    Path(reading.capture.original.path).unlink()
    assert not reading_read(reading.pk)
    reading.refresh_from_db()
    assert reading.state == Work.State.FAILED
    assert "crank.csv" in reading.error


@pytest.mark.parametrize(
    ("trouble", "sentence"),
    [
        (ReadError(Text("This file is torn; save it again.")), "This file is torn; save it again."),
        (ZeroDivisionError("oops"), OUR_FAULT),
        (SoftTimeLimitExceeded(), TOO_LONG),
        (OSError(errno.ENOSPC, "no space"), NO_ROOM),
    ],
)
def test_trouble_settles_the_row_with_the_sentence_that_fits(
    reading: Reading, trouble: Exception, sentence: str, caplog
) -> None:
    def do(*_args: object) -> dict[str, object]:
        raise trouble

    assert carry_out(Reading, reading.pk, do) is None
    reading.refresh_from_db()
    assert (reading.state, reading.error) == (Work.State.FAILED, sentence)
    assert reading.finished_at is not None
    # A bug goes to the log with its trace; what the user can mend does not.
    assert ("oops" in caplog.text) == (sentence == OUR_FAULT)


@pytest.mark.django_db(transaction=True)
def test_columns_that_the_database_refuses_are_a_bug_and_not_tried_again(
    reading: Reading, caplog
) -> None:
    def do(*_args: object) -> dict[str, object]:
        return {"understood": {"rate_hz": float("inf")}}

    assert carry_out(Reading, reading.pk, do) is None
    reading.refresh_from_db()
    assert (reading.state, reading.error) == (Work.State.FAILED, OUR_FAULT)
    assert "cannot be stored" in caplog.text


def test_a_database_that_does_not_answer_settles_nothing(reading: Reading) -> None:
    def do(*_args: object) -> dict[str, object]:
        raise OperationalError("gone away")

    with pytest.raises(OperationalError):
        carry_out(Reading, reading.pk, do)
    reading.refresh_from_db()
    assert reading.state == Work.State.RUNNING


@pytest.mark.parametrize("name", ["ref-01.csv", "ref-04.wav"])
def test_a_reference_capture_goes_through_to_the_right_cylinders(
    add_read: Callable[..., Capture], cast: Cast, name: str
) -> None:
    path = reference(name)
    capture = add_read(path.read_bytes(), name=name)
    run = run_add(member=cast.diagnostician, capture=capture, analysis=reference_setup(name))
    assert run_analyse(run.pk)
    assert not run_analyse(run.pk)
    run.refresh_from_db()
    assert run.state == Work.State.DONE
    assert run.verdict == "uneven"
    assert run.sha256 == capture.sha256
    assert run.code_version
    assert run.report
    assert run.report.candidates == (tuple(reference_line(name)["truth"]["low"]),)
    assert json.dumps(run.result, allow_nan=False)


def test_a_flawed_reference_is_done_but_not_judged(
    add_read: Callable[..., Capture], cast: Cast
) -> None:
    capture = add_read(reference("ref-20.csv").read_bytes())
    run = run_add(
        member=cast.diagnostician, capture=capture, analysis=reference_setup("ref-20.csv")
    )
    assert run_analyse(run.pk)
    run.refresh_from_db()
    assert (run.state, run.verdict) == (Work.State.DONE, "not judged")
    assert run.report
    assert any(f.severity == "stop" for f in run.report.findings)


def test_another_set_up_adds_a_run_and_leaves_the_first(
    add_read: Callable[..., Capture], cast: Cast
) -> None:
    capture = add_read(reference("ref-02.csv").read_bytes())
    setup = reference_setup("ref-02.csv")
    first = run_add(member=cast.diagnostician, capture=capture, analysis=setup)
    run_analyse(first.pk)
    first.refresh_from_db()
    second = run_add(member=cast.owner, capture=capture, analysis=setup)
    run_analyse(second.pk)
    assert Run.objects.count() == 2
    result = first.result
    first.refresh_from_db()
    assert first.result == result
    second.refresh_from_db()
    assert second.result == result, "the same samples and set-up give the same result"


def test_samples_come_back_as_they_were_stored(add_read: Callable[..., Capture]) -> None:
    reading = add_read().reading
    setup = csv_setup()
    waveform = waveform_of(reading, setup)
    assert (waveform.rate_hz, waveform.t0_s, waveform.samples) == (1000, 0, 1000)
    assert [c.name for c in waveform.channels] == ["clamp", "coil"]


def test_without_a_rate_there_is_a_sentence(add_read: Callable[..., Capture]) -> None:
    reading = add_read(
        b"clamp,coil\n" + b"".join(b"%d,%d\n" % (i % 7, i % 3) for i in range(200))
    ).reading
    reading.refresh_from_db()
    assert reading.understood["rate_hz"] is None
    with pytest.raises(ReadError) as refused:
        waveform_of(reading, csv_setup())
    assert says(refused.value, "samples.file-does-not-say")


def test_what_was_summed_up_while_reading_goes_into_the_analysis(
    reading: Reading, media: Path
) -> None:
    assert reading_read(reading.pk)
    reading.refresh_from_db()
    setup = csv_setup()
    for channel in waveform_of(reading, setup).channels:
        assert channel.summary is not None
        known = summary_of([channel.values])
        assert np.array_equal(channel.summary.extremes, known.extremes)
        assert np.array_equal(channel.summary.means, known.means)
        assert channel.summary.missing == 0
    # copies of before this was kept are analysed all the same
    next((media / "derived").rglob("*.means.npy")).unlink()
    assert all(channel.summary is None for channel in waveform_of(reading, setup).channels)
