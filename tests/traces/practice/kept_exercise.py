"""An exercise that is drawn once in a test run: one dead cylinder on an inline four."""

from typing import Any
from uuid import uuid4

from shopdiag.people.models import Member
from traces.practice.models import Exercise
from traces.practice.runs.drawing import exercise_draw
from traces.practice.services import exercise_add

SEED = 1
_KEPT = ("state", "shown", "curve", "truth", "result", "finished_at")
_columns: dict[tuple[int, int], dict[str, Any]] = {}
ANSWER: dict[str, Any] = {
    "call": "even",
    "weak": [],
    "numbers": [None, None, None, None],
    "numbers_open": True,
    "remedy": "",
}


def exercise_drawn(member: Member, level: int = 1, seed: int = SEED) -> Exercise:
    """Return an exercise of the member that waits to be marked, as the worker leaves it."""
    made = exercise_add(member=member, form_token=uuid4(), level=1)
    Exercise.objects.filter(pk=made.pk).update(level=level, seed=seed)
    if (level, seed) in _columns:
        Exercise.objects.filter(pk=made.pk).update(**_columns[level, seed])
    else:
        assert exercise_draw(made.pk)
        _columns[level, seed] = Exercise.objects.filter(pk=made.pk).values(*_KEPT).get()
    made.refresh_from_db()
    return made


def right_answer(exercise: Exercise) -> dict[str, Any]:
    """Return what the form sends of somebody who sees through it, numbers settled by the sync."""
    truth = exercise.truth
    assert truth
    if truth["call"] == "unclear":
        return {"call": "unclear", "remedy": truth["remedy"]}
    weak = [str(p) for p, n in enumerate(truth["cylinders"]) if n in truth["weak"]]
    return {"call": truth["call"], "weak": weak, "number_0": str(truth["cylinders"][0])}
