"""Reading aids on a capture's page: at each finding, and for the curve as a whole."""

import re
from collections.abc import Callable

from engines.models import Engine
from tests.conftest import Cast
from tests.traces.conftest import analysed
from tests.wording import says
from traces.core.report import finding_aid, reading_aids
from traces.models import Capture

Page = Callable[..., str]


def _plain(page: str) -> str:
    return re.sub(r"\s+", " ", page.replace("&#x27;", "'"))


def test_each_finding_and_the_curve_are_explained(
    add_read: Callable[..., Capture], cast: Cast, engine: Engine, page: Page
) -> None:
    run = analysed(add_read, cast.diagnostician, "ref-01.csv", engine)
    assert run.report
    shown = _plain(page(run.capture, cast.writer))
    others = [f for f in run.report.findings if f.code != "relative-only"]
    assert others
    assert shown.count("<summary>Explain</summary>") == len(others)
    for found in others:
        assert " ".join(finding_aid(found)) in shown
    assert shown.count('id="aid"') == 1
    for place in re.findall(r'class="lone-link" href="#([a-z-]+)"', shown):
        assert shown.count(f'id="{place}"') == 1, place
    aids = reading_aids(run.report, run.setup.analysis)
    assert says([aid.title for aid in aids], "reading_aid.why-low", hump="hump", names="cylinder 1")
    for aid in aids:
        assert aid.title in shown
        for sentence in aid.sentences:
            assert sentence in shown


def test_what_stopped_the_analysis_is_explained_too(
    add_read: Callable[..., Capture], cast: Cast, page: Page
) -> None:
    run = analysed(add_read, cast.diagnostician, "ref-19.csv", None)
    assert run.report
    stop = next(f for f in run.report.findings if f.severity == "stop")
    shown = _plain(page(run.capture, cast.mechanic))
    assert finding_aid(stop)[0] in shown
    assert says(shown, "reading_aid.what-not-judged-means")
