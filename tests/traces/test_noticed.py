"""What an analysis noticed: what may change the verdict's meaning is never folded away."""

import pytest

from traces.core.findings import Finding
from traces.selectors.noticed import Explained, folded_notes, said_beside

FOLDED = ["inverted", "neighbour-effect", "drift", "load-on-cable", "gaps"]


def _explained(code: str, severity: str) -> Explained:
    return Explained(Finding(code, severity), ())  # type: ignore[arg-type]


@pytest.mark.parametrize("code", [*FOLDED, "too-uncertain", "sync-angle-unknown", "made-up"])
def test_a_warning_is_always_said(code: str) -> None:
    noticed = [_explained(code, "warn")]
    assert said_beside(noticed) == tuple(noticed)
    assert folded_notes(noticed) == ()


@pytest.mark.parametrize(
    "code",
    ["hand-span", "plug-open", "plain-reading", "sync-missing", "scale-implausible", "made-up"],
)
def test_a_note_that_bears_on_the_verdict_is_said(code: str) -> None:
    assert said_beside([_explained(code, "note")]) == (_explained(code, "note"),)


def test_notes_of_one_code_fold_under_one_name() -> None:
    noticed = [_explained(code, "note") for code in (*FOLDED, FOLDED[1])]
    assert said_beside(noticed) == ()
    folded = folded_notes(noticed)
    assert [len(kind.notes) for kind in folded] == [1, 2, 1, 1, 1]
    assert len({str(kind.name) for kind in folded}) == len(FOLDED)
