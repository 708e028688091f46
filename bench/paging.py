"""The table of `bench.pages`, once Django is set up."""

from statistics import median
from time import perf_counter

from django.core.management import call_command
from django.test import Client

from bench.demo_pages import demo_pages
from jobs.demo.load import begin, carry_on, demo_shop, staff
from shopdiag.people.core.roles import Role
from traces.models import Reading, Run, Work
from traces.runs.analysing import run_analyse
from traces.runs.reading import reading_read

_ROUNDS = 5
_DEMO_STEPS = 6


def table() -> None:
    """Print milliseconds and bytes of each page, the slowest first."""
    call_command("migrate", verbosity=0)
    call_command("load_engines", verbosity=0)
    begin(lambda _words: None)
    for _ in range(_DEMO_STEPS):
        for reading in Reading.objects.filter(state=Work.State.QUEUED):
            reading_read(reading.pk)
        for run in Run.objects.filter(state=Work.State.QUEUED):
            run_analyse(run.pk)
        carry_on()
    shop = demo_shop()
    if shop is None:
        raise RuntimeError("The demo shop was not made.")
    client = Client(SERVER_NAME="localhost")
    client.force_login(
        staff(shop)[Role.OWNER].user, backend="django.contrib.auth.backends.ModelBackend"
    )
    rows = sorted((_asked(client, address) for address in demo_pages()), reverse=True)
    print(f"{'ms':>7} {'bytes':>9}  page")  # noqa: T201 - the table
    for milliseconds, size, address in rows:
        print(f"{milliseconds:7.1f} {size:9,}  {address}")  # noqa: T201 - the table


def _asked(client: Client, address: str) -> tuple[float, int, str]:
    client.get(address)  # templates are compiled once for all
    times = []
    for _ in range(_ROUNDS):
        began = perf_counter()
        answer = client.get(address)
        times.append(perf_counter() - began)
    return 1000 * median(times), len(answer.content), address
