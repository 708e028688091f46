"""The analysis runs linear algebra in one thread, whatever the environment says."""

import scipy.linalg  # noqa: F401  # brings its own library beside NumPy's
from threadpoolctl import threadpool_info, threadpool_limits

from tests.traces.core.synthetic import Crank
from traces.core.analysis import any_signal, judged_by_current


def _threads():
    return {library["num_threads"] for library in threadpool_info()}


def test_one_thread_inside_and_the_callers_afterwards(monkeypatch):
    seen = []
    monkeypatch.setattr(judged_by_current, "judge", lambda *_: seen.append(_threads()))
    made = Crank()
    with threadpool_limits(2):
        any_signal.judge(made.waveform(), made.setup())
        assert _threads() == {2}
    assert seen == [{1}]
