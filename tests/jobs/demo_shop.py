"""The demo shop in a test's own database, as a start leaves it once its worker is done."""

from django.core.management import call_command

from jobs.demo.load import begin, carry_on, demo_shop, staff
from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member
from traces.models import Reading, Run, Work
from traces.runs.analysing import run_analyse
from traces.runs.reading import reading_read

_ROUNDS = 6
"""Read, analyse, sign and order, then the same after the repair; each round does one step."""


def fill_demo_shop() -> dict[Role, Member]:
    """Load the demo, do the worker's part here, and return its people by role."""
    call_command("load_engines", verbosity=0)
    begin(lambda _words: None)
    for _ in range(_ROUNDS):
        for reading in Reading.objects.filter(state=Work.State.QUEUED):
            assert reading_read(reading.pk)
        for run in Run.objects.filter(state=Work.State.QUEUED):
            assert run_analyse(run.pk)
        carry_on()
    shop = demo_shop()
    assert shop is not None
    return staff(shop)
