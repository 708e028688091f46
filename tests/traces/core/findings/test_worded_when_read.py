"""What an analysis says is kept with what fills it, and worded in the reader's language."""

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from string import Formatter
from typing import Any

import pytest

from shopdiag.people.core.words import Text, say, translate_by
from tests.people.marking import Marking
from traces.core.analysis.any_signal import judge
from traces.core.findings.finding_texts import PHRASES, WORDINGS, finding
from traces.core.findings.findings import Finding
from traces.core.readers.reading import read
from traces.core.report.publishing import published_whole
from traces.core.report.results import Report
from traces.core.setup.manual_edits import ManualEdits


@pytest.fixture
def marking() -> Iterator[None]:
    before = translate_by(Marking())
    yield
    translate_by(before)


def as_stored(value: Any) -> Any:
    return json.loads(json.dumps(value))


def names_in(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name}


@pytest.mark.parametrize("wording", sorted(WORDINGS))
def test_a_stored_finding_is_worded_by_whoever_reads_it(wording: str) -> None:
    text = WORDINGS[wording]
    figures = names_in(text.message + text.remedy) - set(PHRASES)
    given: dict[str, Any] = {name: say(f"some {name}") for name in figures}
    made = finding(wording, **given)
    stored = as_stored(made.to_json())
    before = translate_by(Marking())
    try:
        again = Finding.from_json(stored)
        assert again == made
        assert again.to_json() == stored
        for read_as, template in ((again.message, text.message), (again.remedy, text.remedy)):
            filled = {name: f"⟦some {name}⟧" for name in figures}
            phrases = {name: f"⟦{phrase.message}⟧" for name, phrase in PHRASES.items()}
            assert read_as == f"⟦{template.format(**filled, **phrases)}⟧"
    finally:
        translate_by(before)
    assert "⟦" not in again.message + again.remedy


def figures_of(stored: object) -> Iterator[str]:
    """Yield what fills the texts of a stored result and stands as it is in every language."""
    if isinstance(stored, Mapping):
        if "say" in stored:
            yield from (f for f in stored.get("figures", {}).values() if isinstance(f, str))
        for part in stored.values():
            yield from figures_of(part)
    elif isinstance(stored, list):
        for part in stored:
            yield from figures_of(part)


def sentences_of(report: Report) -> Iterator[str]:
    yield from (s for f in report.findings for s in (f.message, f.remedy))
    yield from (str(c.words) for c in report.engine_cycles if c.words)
    yield from (str(e.words) for e in report.excluded)
    if report.sync_note:
        yield str(report.sync_note)
    if report.starter:
        for note in report.starter.notes:
            yield from map(str, filter(None, (note.message, note.remedy, note.source)))
        yield from map(str, report.starter.not_known.values())
        yield from map(str, report.starter.limited.values())


@pytest.mark.parametrize(
    ("name", "changes"),
    [
        ("ref-01", {}),
        ("ref-02", {"hand": ManualEdits(shift=1, span_s=(1.0, 2.0))}),
        ("ref-13", {"sync": None}),
        ("ref-23", {}),
    ],
)
def test_nothing_in_a_result_is_left_out(
    references: Mapping[str, Any], name: str, changes: dict[str, Any], marking: None
) -> None:
    reference = references[name]
    setup = replace(reference.setup, **changes)
    report = judge(read(reference.path, rate_hz=setup.rate_hz).waveform, setup)
    again = Report.from_json(as_stored(report.to_json()))
    assert [(f.seen, f.to_do) for f in again.findings] == [
        (f.seen, f.to_do) for f in report.findings
    ]
    told = list(sentences_of(again))
    assert len(told) > 10
    assert [s for s in told if not (s.startswith("⟦") and s.endswith("⟧"))] == []
    # a word in a figure is one that no translator sees
    kept = {"clamp", "coil", setup.current_channel, setup.sync and setup.sync.channel}
    words = {w for f in figures_of(report.to_json()) for w in re.findall(r"[A-Za-z]{4,}", f)}
    assert words - kept == set()
    assert "⟦" in json.dumps(published_whole(again), ensure_ascii=False)


def test_a_result_is_stored_alike_whatever_the_worker_speaks(marking: None) -> None:
    stored = finding("no-signal", channel="clamp", level=say("a flat line")).to_json()
    assert stored["seen"] == {
        "say": WORDINGS["no-signal"].message,
        "figures": {"level": {"say": "a flat line"}},
    }
    assert Text.from_json(stored["to_do"]).message == WORDINGS["no-signal"].remedy
