"""The table of `bench.view`; wants settings with a folder of their own."""

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from shopdiag.people.core.roles import Role
from shopdiag.people.middleware import SHOP_KEY
from shopdiag.people.models import Member, Shop, User
from traces.core.judging import analyse
from traces.core.readers import BLOCKS_SUFFIX, MEANS_SUFFIX
from traces.core.waveform import summary_of
from traces.models import Reading, Run, Work
from traces.runs.reading import reading_read
from traces.selectors.samples import stored_samples
from traces.services import capture_add, run_add
from traces.simulator.scenarios import draw
from traces.simulator.simulate import simulate

_SEED = 4711
_RATE_HZ = 1_000_000.0
_REPEATS = 15
_WIDTHS = (1200, 4000)
_PART = 1_000_000


def table(samples: int) -> None:
    """Print the figures as a table."""
    run, client = _judged(samples)
    whole_s = samples / _RATE_HZ
    middle_s = whole_s / 2
    spans_s = (whole_s, whole_s / 2, 4.09, 1.22, 0.1, 0.002, 20e-6)
    _say(f"\nA view of {samples / 1e6:g} M samples of two channels, {_REPEATS} times each\n")
    _say("| stretch | pixels | median ms | processor ms | kB | packed kB | processor of 50 ms |")
    _say("| --- | --- | --- | --- | --- | --- | --- |")
    numbers = [run.capture_id, run.pk]
    plot, recorded = (
        reverse("traces:plot", args=numbers),
        reverse("traces:curve", args=numbers[:1]),
    )
    for address, what in ((plot, "run"), (recorded, "as recorded")):
        for pixels in _WIDTHS:
            for span_s in spans_s:
                # from where the crank is on: its humps and marks are part of what a view costs
                begin_s = 0.0 if address == plot or span_s == whole_s else middle_s
                query = {"from": f"{begin_s}", "to": f"{begin_s + span_s}", "pixels": f"{pixels}"}
                _row(f"{what}, {span_s:g} s", pixels, client, address, query)
    values = reverse("traces:run-values", args=numbers)
    _row("cursors at both ends", 0, client, values, {"a": "0", "b": f"{whole_s}"})
    _row("cursors 1 s apart", 0, client, values, {"a": f"{middle_s}", "b": f"{middle_s + 1}"})
    stored = stored_samples(run.reading)
    begin, _ = _timed(lambda: float(np.asarray(stored.values[0]).max()))
    _say(f"\nOne pass over one channel, for comparison: {begin:.0f} ms")


def _row(what: str, pixels: int, client: Client, address: str, query: dict[str, str]) -> None:
    plain = client.get(address, query)
    if plain.status_code != 200:
        raise SystemExit(f"{address} answered {plain.status_code}")
    packing = {"accept-encoding": "gzip"}
    packed = client.get(address, query, headers=packing)
    median_ms, processor_ms = _timed(lambda: client.get(address, query, headers=packing))
    _say(
        f"| {what} | {pixels or '–'} | {median_ms:.1f} | {processor_ms:.1f} | "
        f"{len(plain.content) / 1e3:.0f} | {len(packed.content) / 1e3:.0f} | "
        f"{processor_ms / 50:.2f} |"
    )


def _timed(does: Callable[[], object]) -> tuple[float, float]:
    """Return medians of the time by the clock and by this process, in milliseconds."""
    clock_ms, processor_ms = [], []
    for _ in range(_REPEATS):
        begin, processor = time.perf_counter(), time.process_time()
        does()
        clock_ms.append((time.perf_counter() - begin) * 1e3)
        processor_ms.append((time.process_time() - processor) * 1e3)
    return statistics.median(clock_ms), statistics.median(processor_ms)


def _judged(samples: int) -> tuple[Run, Client]:
    """Return a judged run of a recording of that many samples, and somebody who may see it."""
    call_command("migrate", verbosity=0)
    shop = Shop.objects.create(name="Bench")
    user = User.objects.create(username="bench", name="Bench")
    member = Member.objects.create(shop=shop, user=user, role=Role.DIAGNOSTICIAN)
    made = simulate(draw(_SEED))
    a, b = (c.values for c in made.waveform.channels[:2])
    rows = "\n".join(f"{i},{x:.4f},{y:.4f}" for i, (x, y) in enumerate(zip(a, b, strict=True)))
    upload = SimpleUploadedFile("bench.csv", f"n,clamp,coil\n{rows}\n".encode())
    capture = capture_add(member=member, upload=upload).capture
    if capture is None:
        raise SystemExit("the recording was not taken in")
    reading_read(capture.reading.pk)
    reading = Reading.objects.get(pk=capture.reading.pk)
    _lengthen(reading, (a, b), samples)
    run = run_add(member=member, capture=capture, analysis=made.scenario.setup())
    report = analyse(made.waveform, made.scenario.setup())
    Run.objects.filter(pk=run.pk).update(
        state=Work.State.DONE, verdict=report.verdict, result=report.to_json()
    )
    client = Client(headers={"host": "localhost"})
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    session = client.session
    session[SHOP_KEY] = shop.pk
    session.save()
    return Run.objects.select_related("reading").get(pk=run.pk), client


def _lengthen(reading: Reading, channels: tuple[np.ndarray, ...], samples: int) -> None:
    """Put a recording of that many samples in the place of what was read."""
    path = Path(settings.MEDIA_ROOT) / reading.samples_file
    shape = (len(channels), samples)
    values = np.lib.format.open_memmap(path, mode="w+", dtype=np.float32, shape=shape)
    rng = np.random.default_rng(_SEED)
    for i, channel in enumerate(channels):
        for first in range(0, samples, _PART):
            part = values[i, first : first + _PART]
            part[:] = np.resize(channel, part.size) + 0.01 * rng.standard_normal(part.size)
    values.flush()
    parts = ((c[at : at + _PART] for at in range(0, samples, _PART)) for c in values)
    summaries = [summary_of(part) for part in parts]
    np.save(path.with_suffix(BLOCKS_SUFFIX), np.stack([one.extremes for one in summaries]))
    np.save(path.with_suffix(MEANS_SUFFIX), np.stack([one.means for one in summaries]))
    understood = reading.understood | {"samples": samples, "rate_hz": _RATE_HZ, "start_s": 0.0}
    Reading.objects.filter(pk=reading.pk).update(understood=understood)


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()
