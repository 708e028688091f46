"""What the timeline tells of an authorisation, and of codes that are pasted."""

import pytest
from django.utils import translation

from jobs.core.stages import Stage
from jobs.models import Complaint, TimelineEvent
from jobs.services.intake import authorised_words
from jobs.services.triage import codes_add
from jobs.services.visits import visit_move
from tests.wording import says_only


@pytest.mark.parametrize(
    ("minutes", "amount", "told"),
    [
        (None, "", "the diagnosis"),
        (90, "", "90 minutes"),
        (1, "", "1 minute"),
        (None, "250", "250"),
        (90, "250", "90 minutes and 250"),
    ],
)
def test_what_was_authorised_is_named(minutes: int | None, amount: str, told: str):
    complaint = Complaint(
        authorised_by="Casey", authorised_minutes=minutes, authorised_amount=amount
    )
    line = authorised_words(complaint)
    assert says_only(line, "intake.noted-authorised", authorised_by="Casey", what=told, said="")


def told(event, language):
    with translation.override(language):
        return event.told


@pytest.mark.parametrize("writes_in", ["en", "es"])
def test_everybody_reads_a_line_in_their_own_language(visit, cast, writes_in):
    with translation.override(writes_in):
        visit_move(visit=visit, to=Stage.TRIAGE, member=cast.writer, reason="Listen again, hot.")
    event = TimelineEvent.objects.filter(kind="stage").latest("pk")
    assert told(event, "en").startswith("moved the job from Intake to Triage")
    assert told(event, "es").startswith("pasó el trabajo de ")
    assert all(told(event, code).endswith(": Listen again, hot.") for code in ("en", "es-419"))
    assert event.words == told(event, writes_in)


def test_a_line_from_before_stands_as_it_was_written(visit, cast):
    event = TimelineEvent(visit=visit, by=cast.writer, kind="note", words="added a note")
    assert told(event, "es") == "added a note"


@pytest.mark.parametrize("text", ["P0301", "nothing that is a code"])
def test_codes_are_told_once_even_where_none_was_read(visit, by, text: str):
    for _ in range(2):
        codes_add(visit=visit, text=text, member=by)
        assert TimelineEvent.objects.filter(visit=visit, kind="codes").count() == 1
