"""Which tests the second run repeats: those that together send every statement of the first.

The run on SQLite notes what each test sends to the database: the statement's text, the kinds of
its values, and whether it was refused. The run on PostgreSQL takes a set of tests in which each of
these occurs, the quickest first; what commits, what is for the queue, and what is marked
`every_database` runs in both. `.ci/run` names the folder between them:
STATEMENTS_TO for the first run, STATEMENTS_FROM for the second.
"""

import heapq
import json
import os
import re
from bisect import bisect, bisect_left
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date, datetime
from functools import cache
from hashlib import blake2b
from pathlib import Path
from time import perf_counter
from typing import Any, NamedTuple
from unittest.mock import patch

import pytest
from django.db import connection
from django.db.models.sql.compiler import SQLCompiler

_LIST = re.compile(r"%s(?:, %s)+")
_BOOKKEEPING = ("SAVEPOINT", "RELEASE", "BEGIN", "PRAGMA", "SET CONSTRAINTS")
_LENGTHS = (0, 1, 10, 20, 40, 80, 255)
"""Columns take about as many characters; longer ones any number."""
_WIDTHS = (2**15, 2**31, 2**63)
_NO_JSON = re.compile(r"\\u0000|\b(?:NaN|Infinity)\b")
_LEAST_SECONDS = 0.01


class Noted(NamedTuple):
    """What one test sent, and how long it took."""

    test: str
    seconds: float
    statements: frozenset[str]


def kind_of(value: object) -> str:
    """Return what a database may take differently of a value: its type, and how far it goes."""
    match value:
        case bool() | None | bytes() | datetime() | date():
            return type(value).__name__
        case int():
            return f"int{bisect(_WIDTHS, abs(value))}"
        case float():
            return "float" if abs(value) < float("inf") else "no number"
        case str():
            odd = "\0" in value, not value.isascii(), bool(_NO_JSON.search(value))
            return f"str{bisect_left(_LENGTHS, len(value))}{odd}"
        case list() | tuple():
            return f"list({sorted({kind_of(one) for one in value})})"
    return type(value).__name__


def shape_of(sql: str, values: object, state: str) -> str:
    """Return the name of a statement with the kinds of its values; lists of any length are alike.

    `state` is what else another database may take differently: that it was refused, that one before
    it was and nothing was rolled back, that it locks rows.
    """
    kinds = list(map(kind_of, values.values() if isinstance(values, dict) else values or ()))  # type: ignore[call-overload]
    short = _LIST.sub("%s+", sql)
    told = "|".join((short, *(kinds if short == sql else sorted(set(kinds))), state))
    return blake2b(told.encode("utf-8", "surrogatepass"), digest_size=6).hexdigest()


@contextmanager
def noting(found: set[str]) -> Iterator[None]:
    """Add to `found` whatever this thread sends."""
    state = {"after": ""}

    def note(
        execute: Callable[..., Any],
        sql: str,
        values: object,
        many: bool,
        context: Mapping[str, Any],
    ) -> Any:
        if sql.startswith("ROLLBACK"):
            state["after"] = ""
        if sql.startswith((*_BOOKKEEPING, "ROLLBACK")):
            return execute(sql, values, many, context)
        told = state["after"]
        try:
            return execute(sql, values, many, context)
        except Exception as error:
            told += type(error).__name__
            state["after"] = "after "
            raise
        finally:
            found.add(shape_of(sql, values, told))

    as_sql = SQLCompiler.as_sql

    def locking(self: SQLCompiler, *args: Any, **kwargs: Any) -> Any:
        made = as_sql(self, *args, **kwargs)
        if self.query.select_for_update:  # SQLite has no word for it
            found.add(shape_of(*made, "locks"))
        return made

    with connection.execute_wrapper(note), patch.object(SQLCompiler, "as_sql", locking):
        yield


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Note what a test sends, its fixtures' rows too, where a folder is named."""
    folder = os.environ.get("STATEMENTS_TO")
    if not folder or not item.get_closest_marker("database"):
        return (yield)
    found: set[str] = set()
    begun = perf_counter()
    with noting(found):
        result = yield
    line = {
        "test": item.nodeid,
        "seconds": round(perf_counter() - begun, 4),
        "statements": sorted(found),
    }
    process = os.environ.get("PYTEST_XDIST_WORKER", "alone")
    with (Path(folder) / f"{process}.jsonl").open("a", encoding="utf-8") as notes:
        notes.write(json.dumps(line) + "\n")
    return result


def read_notes(folder: Path) -> list[Noted]:
    """Return what the first run noted, in an order that does not hang on its processes."""
    lines = (
        json.loads(line)
        for file in folder.glob("*.jsonl")
        for line in file.read_text(encoding="utf-8").splitlines()
    )
    notes = sorted(Noted(n["test"], n["seconds"], frozenset(n["statements"])) for n in lines)
    if not notes:
        raise pytest.UsageError(f"The first run left no notes in {folder}.")
    return notes


def cover_of(notes: Iterable[Noted], known: Iterable[str] = ()) -> set[str]:
    """Return tests that together send every statement but those known, cheap ones first.

    The greedy set cover: again and again the test with the most new statements for its time.
    """
    notes = list(notes)
    left = set[str]().union(*(noted.statements for noted in notes)) - set(known)
    chosen: set[str] = set()
    heap = [(-_worth(noted, left), noted.test, at) for at, noted in enumerate(notes)]
    heapq.heapify(heap)
    while left and heap:
        _, test, at = heapq.heappop(heap)
        worth = _worth(notes[at], left)
        if worth == 0:
            continue
        if heap and worth < -heap[0][0]:
            heapq.heappush(heap, (-worth, test, at))
            continue
        chosen.add(test)
        left -= notes[at].statements
    return chosen


def _worth(noted: Noted, left: set[str]) -> float:
    return len(noted.statements & left) / max(noted.seconds, _LEAST_SECONDS)


@cache
def _files_of_second_run(folder: str) -> frozenset[str]:
    return frozenset(noted.test.partition("::")[0] for noted in read_notes(Path(folder)))


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """In the second run, do not even import what has no test of the database or the queue."""
    folder = os.environ.get("STATEMENTS_FROM")
    if not folder or not collection_path.is_file() or not collection_path.match("test_*.py"):
        return None
    if "pytest.mark.queue" in collection_path.read_text(encoding="utf-8"):
        return None
    file = collection_path.relative_to(config.rootpath).as_posix()
    return None if file in _files_of_second_run(folder) else True


def _runs_in_both(item: pytest.Item) -> bool:
    """Return whether a test is about the server: commits, locks, queue, order of text."""
    commits = {"transactional_db", "live_server"} & set(getattr(item, "fixturenames", ()))
    mark = item.get_closest_marker("django_db")
    return bool(
        commits
        or (mark and mark.kwargs.get("transaction"))
        or item.get_closest_marker("queue")
        or item.get_closest_marker("every_database")
    )


def leave_out_repeated(config: pytest.Config, items: list[pytest.Item]) -> None:
    """In the second run, drop tests that send nothing which others of it do not send."""
    folder = os.environ.get("STATEMENTS_FROM")
    if not folder:
        return
    by_test = {noted.test: noted for noted in read_notes(Path(folder))}
    # a test that the first run does not know has said nothing of itself
    kept = {i.nodeid for i in items if i.nodeid not in by_test or _runs_in_both(i)}
    known = set[str]().union(*(by_test[t].statements for t in kept if t in by_test))
    others = (by_test[i.nodeid] for i in items if i.nodeid not in kept)
    kept |= cover_of(others, known)
    config.hook.pytest_deselected(items=[i for i in items if i.nodeid not in kept])
    items[:] = [i for i in items if i.nodeid in kept]
