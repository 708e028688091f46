from django.apps import AppConfig


class PracticeConfig(AppConfig):
    name = "traces.practice"
    label = "practice"

    def ready(self) -> None:
        # The sweep of captures then looks after exercises too.
        from traces.practice.models import Exercise  # noqa: PLC0415 - models are there from here on
        from traces.runs.sending import TASKS  # noqa: PLC0415 - it imports models

        TASKS[Exercise] = "practice.draw_exercise"
