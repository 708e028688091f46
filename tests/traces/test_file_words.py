"""What a file was understood as, in the reader's language."""

from shopdiag.people.core.words import say, translate_by
from tests.people.marking import Marking
from traces.core.readers import BY_HAND
from traces.selectors.file_words import Understood


def test_notes_are_worded_by_whoever_reads_them() -> None:
    stored = [
        say("{count} rows end early.", count=3).to_json(),
        BY_HAND.filled(changes=say("{rate} Hz", rate="2000")).to_json(),
        # of earlier versions
        "Corrected by hand: 2000 Hz.",
        "The last line is not closed.",
    ]
    understood = Understood({"notes": stored})
    assert understood.notes == ["3 rows end early.", "The last line is not closed."]
    before = translate_by(Marking())
    try:
        assert understood.notes == ["⟦3 rows end early.⟧", "⟦The last line is not closed.⟧"]
    finally:
        translate_by(before)
