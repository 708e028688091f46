"""Who owns a row: one claim wins, a dead worker's row is taken over, attempts are counted."""

import threading
from datetime import timedelta
from uuid import UUID, uuid4

import pytest
from django.db import connection
from django.utils import timezone

from traces.models import Reading, Work
from traces.runs.claims import GAVE_UP, MOST_ATTEMPTS, claim, fail, finish, heartbeat


def _age(reading: Reading, seconds: float) -> None:
    Reading.objects.filter(pk=reading.pk).update(
        heartbeat_at=timezone.now() - timedelta(seconds=seconds)
    )


def test_a_claim_makes_the_row_running_and_counts_the_attempt(reading: Reading) -> None:
    token = claim(Reading, reading.pk)
    reading.refresh_from_db()
    assert reading.state == Work.State.RUNNING
    assert reading.attempt_token == token
    assert reading.attempts == 1
    assert reading.started_at is not None
    assert reading.heartbeat_at is not None


def test_a_row_is_claimed_once(reading: Reading) -> None:
    assert claim(Reading, reading.pk) is not None
    assert claim(Reading, reading.pk) is None
    reading.refresh_from_db()
    assert reading.attempts == 1


def test_a_row_that_is_gone_is_not_claimed(db: None) -> None:
    assert claim(Reading, 12345) is None


@pytest.mark.django_db(transaction=True)
def test_of_concurrent_claims_exactly_one_wins(reading: Reading) -> None:
    together = threading.Barrier(4)
    won: list[UUID | None] = []

    def try_it() -> None:
        try:
            together.wait()
            won.append(claim(Reading, reading.pk))
        finally:
            connection.close()

    threads = [threading.Thread(target=try_it) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(won) == 4
    assert sum(token is not None for token in won) == 1
    reading.refresh_from_db()
    assert reading.attempt_token in won
    assert reading.attempts == 1


def test_a_fresh_heartbeat_protects_and_a_stale_one_does_not(reading: Reading, settings) -> None:
    first = claim(Reading, reading.pk)
    _age(reading, settings.WORKER_STALE_S - 2)
    assert claim(Reading, reading.pk) is None
    _age(reading, settings.WORKER_STALE_S + 2)
    second = claim(Reading, reading.pk)
    assert second not in (None, first)
    reading.refresh_from_db()
    assert reading.attempts == 2


def test_only_the_owner_settles(reading: Reading, settings) -> None:
    first = claim(Reading, reading.pk)
    assert first
    _age(reading, settings.WORKER_STALE_S + 2)
    second = claim(Reading, reading.pk)
    assert second
    assert not finish(Reading, reading.pk, first, samples_file="late.npy")
    assert not fail(Reading, reading.pk, first, error="late")
    reading.refresh_from_db()
    assert (reading.state, reading.samples_file, reading.error) == (Work.State.RUNNING, "", "")
    assert finish(Reading, reading.pk, second, samples_file="mine.npy")
    assert not finish(Reading, reading.pk, second, samples_file="again.npy")
    reading.refresh_from_db()
    assert (reading.state, reading.samples_file) == (Work.State.DONE, "mine.npy")


@pytest.mark.parametrize("state", [Work.State.DONE, Work.State.FAILED])
def test_what_is_settled_stays_settled(reading: Reading, state: str) -> None:
    Reading.objects.filter(pk=reading.pk).update(state=state)
    assert claim(Reading, reading.pk) is None
    reading.refresh_from_db()
    assert reading.state == state


def test_after_the_last_attempt_the_row_is_given_up(reading: Reading, settings) -> None:
    for _ in range(MOST_ATTEMPTS):
        assert claim(Reading, reading.pk)
        _age(reading, settings.WORKER_STALE_S + 2)
    assert claim(Reading, reading.pk) is None
    reading.refresh_from_db()
    assert reading.state == Work.State.FAILED
    assert reading.error == GAVE_UP
    assert f" {MOST_ATTEMPTS} times" in GAVE_UP
    assert reading.attempts == MOST_ATTEMPTS


def test_the_last_attempt_is_not_given_up_while_it_lives(reading: Reading) -> None:
    Reading.objects.filter(pk=reading.pk).update(attempts=MOST_ATTEMPTS - 1)
    assert claim(Reading, reading.pk)
    assert claim(Reading, reading.pk) is None
    reading.refresh_from_db()
    assert reading.state == Work.State.RUNNING


@pytest.mark.django_db(transaction=True)
def test_the_heartbeat_is_written_while_the_work_lasts(reading: Reading, settings) -> None:
    settings.WORKER_STALE_S = 0.3
    token = claim(Reading, reading.pk)
    assert token
    _age(reading, 60)
    with heartbeat(Reading, reading.pk, token):
        # The block ends when the beat was seen; without one the deadline fails the test.
        for _ in range(200):
            reading.refresh_from_db()
            assert reading.heartbeat_at
            if timezone.now() - reading.heartbeat_at < timedelta(seconds=30):
                break
            threading.Event().wait(0.05)
        else:
            pytest.fail("no heartbeat was written")
    assert not [t for t in threading.enumerate() if t.name == "heartbeat"]


@pytest.mark.django_db(transaction=True)
def test_a_heartbeat_stops_when_the_row_is_taken_over(reading: Reading, settings) -> None:
    settings.WORKER_STALE_S = 0.3
    token = claim(Reading, reading.pk)
    assert token
    Reading.objects.filter(pk=reading.pk).update(attempt_token=uuid4())
    _age(reading, 60)
    reading.refresh_from_db()
    before = reading.heartbeat_at
    with heartbeat(Reading, reading.pk, token):
        beating = next(t for t in threading.enumerate() if t.name == "heartbeat")
        beating.join(10)
        assert not beating.is_alive()
    reading.refresh_from_db()
    assert reading.heartbeat_at == before
