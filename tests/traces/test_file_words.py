"""What a file was understood as, in the reader's language."""

from shopdiag.people.core.words import say, translate_by
from tests.people.marking import Marking
from traces.core.readers import BY_HAND
from traces.selectors.file_words import Understood

_EARLY = "3 rows end early."
_UNCLOSED = "The last line is not closed."


def test_notes_are_worded_by_whoever_reads_them() -> None:
    stored = [
        say("{count} rows end early.", count=3).to_json(),
        BY_HAND.filled(changes=say("{rate} Hz", rate="2000")).to_json(),
        # of earlier versions
        "Corrected by hand: 2000 Hz.",
        _UNCLOSED,
    ]
    understood = Understood({"notes": stored})
    told = [_EARLY, _UNCLOSED]
    assert understood.notes == told
    before = translate_by(Marking())
    try:
        assert understood.notes == [f"⟦{words}⟧" for words in told]
    finally:
        translate_by(before)
