"""Entrance of the worker: takes an exercise's number, calls one function."""

from celery import shared_task

from traces.practice.models import Exercise
from traces.practice.runs.drawing import exercise_draw
from traces.runs.sending import TASKS
from traces.tasks import HARD_LIMIT_S, SOFT_LIMIT_S


@shared_task(name=TASKS[Exercise], soft_time_limit=SOFT_LIMIT_S, time_limit=HARD_LIMIT_S)
def draw_exercise(exercise_id: int) -> None:
    """Draw an exercise."""
    exercise_draw(exercise_id)
