"""What each page weighs and asks of the database; speed itself is `python -m bench.pages`."""

import gzip

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bench.demo_pages import demo_pages
from shopdiag.people.core.roles import Role
from tests.jobs.demo_shop import fill_demo_shop
from tests.traces.conftest import media  # noqa: F401 - a fixture

MOST_BYTES = 200_000
"""Of a page as it is sent, unpacked (pages are never packed), without its plot's JSON."""
MOST_QUERIES = 60

pytestmark = pytest.mark.django_db(transaction=True)


def test_pages_of_the_demo_are_light(client_for, media):  # noqa: F811
    people = fill_demo_shop()
    client = client_for(people[Role.OWNER])
    told = []
    for address in demo_pages():
        with CaptureQueriesContext(connection) as asked:
            answer = client.get(address)
        assert answer.status_code == 200, address
        size, packed = len(answer.content), len(gzip.compress(answer.content))
        print(f"{address}: {size:,} bytes ({packed:,} packed), {len(asked)} queries")  # noqa: T201 - what this is for
        told += [f"{address}: {size} bytes"] if size > MOST_BYTES else []
        told += [f"{address}: {len(asked)} queries"] if len(asked) > MOST_QUERIES else []
    assert not told, "\n".join(told)
