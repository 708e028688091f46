"""What the timeline tells of an authorisation, and of codes that are pasted."""

import pytest

from jobs.models import Complaint, TimelineEvent
from jobs.services.intake import authorised_words
from jobs.services.triage import codes_add
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


@pytest.mark.parametrize("text", ["P0301", "nothing that is a code"])
def test_codes_are_told_once_even_where_none_was_read(visit, by, text: str):
    for _ in range(2):
        codes_add(visit=visit, text=text, member=by)
        assert TimelineEvent.objects.filter(visit=visit, kind="codes").count() == 1
