"""Where CI is set, Hypothesis' examples hang on nothing but the test that asks for them."""

import os

from hypothesis import HealthCheck, settings
from hypothesis.internal.conjecture import providers
from hypothesis.internal.constants_ast import Constants


def repeat_examples() -> None:
    """Draw the same examples in every run where CI is set; elsewhere each run draws its own.

    Hypothesis' own profile for CI begins every test at the same seed. It still draws numbers and
    texts from the source of the modules loaded so far, and these differ by process, by what ran
    before, and by every change of the source: a landing could fail by luck.
    """
    is_ci = bool(os.environ.get("CI"))
    if is_ci:
        settings.load_profile("ci")
    # how long drawing takes hangs on what else the machine does, which is no fault of a test
    settings.register_profile("calm", deadline=None, suppress_health_check=[HealthCheck.too_slow])
    settings.load_profile("calm")
    if not is_ci:
        return
    nothing = Constants()
    if not hasattr(providers, "_get_local_constants"):
        raise RuntimeError("Hypothesis keeps the constants it draws from somewhere else now.")
    providers._get_local_constants = lambda: nothing
