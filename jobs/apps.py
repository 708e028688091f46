from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Warning, register  # noqa: A004 - Django's own name

from jobs.core.papers import fonts_in, scripts_missing


class JobsConfig(AppConfig):
    name = "jobs"

    def ready(self) -> None:
        # The sweep of captures then looks after e-mails too, and cases take along what jobs tested.
        from jobs.models import QuestionMail  # noqa: PLC0415 - models are there from here on
        from jobs.runs.question_mails import MAIL_TASK  # noqa: PLC0415 - it imports models
        from jobs.selectors.case_tests import (  # noqa: PLC0415 - it imports models
            case_test_words,
            tests_beside_capture,
        )
        from jobs.selectors.in_cylinder import earlier_of  # noqa: PLC0415 - it imports models
        from jobs.services.followed_setups import (  # noqa: PLC0415 - it imports models
            capture_follow_setup,
        )
        from traces.runs.sending import TASKS  # noqa: PLC0415 - it imports models
        from traces.selectors.case_tests import (  # noqa: PLC0415 - it imports models
            KEEPERS,
            TestsKept,
        )
        from traces.selectors.pressure_page import EARLIER  # noqa: PLC0415 - it imports models
        from traces.services.runs import ON_SETUP  # noqa: PLC0415 - it imports models

        TASKS[QuestionMail] = MAIL_TASK
        KEEPERS.append(TestsKept(tests_beside_capture, case_test_words))
        ON_SETUP.append(capture_follow_setup)
        EARLIER.append(earlier_of)
        register(check_fonts)


def check_fonts(**_: Any) -> list[CheckMessage]:  # noqa: ANN401 - whatever Django hands over
    """Return a warning where papers as PDF could not show a script that names are written in."""
    missing = scripts_missing(fonts_in(settings.FONT_FOLDERS))
    if not missing:
        return []
    return [
        Warning(
            f"Papers as PDF have no font for: {', '.join(missing)}.",
            hint="Put fonts that have them into a folder and name it by FONT_FOLDER "
            "(README, Papers).",
            id="jobs.W001",
        )
    ]
