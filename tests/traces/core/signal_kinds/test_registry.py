"""The registry of signals: nobody else names one by its code, and each keeps its promises."""

import ast
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path

import pytest
from rest_framework.exceptions import ValidationError

from engines.core.firing import FiringOrder
from tests.wording import says
from traces.api.serializers import RunAskedSerializer
from traces.core.analysis.signal_judge import judge_of
from traces.core.findings.finding_texts import WORDINGS
from traces.core.report.explanations import EXPLANATIONS
from traces.core.report.parts import ReportParts
from traces.core.setup import AnalysisSetup, SetupError
from traces.core.signal_kinds import SIGNAL_KINDS, SIGNALS, SignalKind, kind_of
from traces.forms.setup_fields import SetupFields

ROOT = Path(__file__).parents[4]
_ROOM = ROOT / "traces" / "core" / "signal_kinds"
_APPS = ("shopdiag", "engines", "traces", "jobs", "bench", "templates")


def _strings(path: Path) -> Iterator[str]:
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        yield from (part.strip("'\"]= ") for part in text.replace("[value=", '"').split('"'))
        return
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def test_only_the_registry_and_a_signals_own_module_name_its_code() -> None:
    files = [
        path
        for app in _APPS
        for kind in ("py", "html", "css", "js")
        for path in (ROOT / app).rglob(f"*.{kind}")
        if _ROOM not in path.parents and not {"vendor", "migrations"} & set(path.parts)
    ]
    assert len(files) > 500
    named = {
        str(path.relative_to(ROOT)): found
        for path in files
        if (found := set(SIGNALS) & set(_strings(path)))
    }
    assert named == {}


@pytest.mark.parametrize("kind", SIGNAL_KINDS, ids=lambda kind: kind.code)
class TestEachSignal:
    def test_it_is_found_by_its_code(self, kind: SignalKind) -> None:
        assert kind_of(kind.code) is kind
        assert SIGNALS.count(kind.code) == 1

    def test_its_module_judges_and_prepares(self, kind: SignalKind) -> None:
        judge = judge_of(kind)
        assert callable(judge.judge)
        assert callable(judge.prepared)

    def test_its_part_is_one_of_a_report(self, kind: SignalKind) -> None:
        assert kind.part in {"", *(field.name for field in fields(ReportParts))}

    def test_what_it_says_anew_is_a_finding_that_is_explained(self, kind: SignalKind) -> None:
        if kind.lower is None:
            assert kind.carries in ("current", "pressure")
            return
        codes = {code for code, _severity in EXPLANATIONS}
        assert set(kind.lower.wordings) <= codes
        assert set(kind.lower.in_the_curve) <= set(EXPLANATIONS)
        assert {text.code for text in WORDINGS.values()} >= {
            code for code in kind.lower.wordings if code != "no-compression"
        }


def test_the_set_up_says_what_each_signal_asks() -> None:
    options = SetupFields()["signal"].subwidgets
    asked = {option.data["value"]: option.data["attrs"]["data-asks"] for option in options}
    assert asked == {
        "starter-current": "clamp cranked conditions",
        "battery-voltage": "cranked conditions",
        "crank-teeth": "wheel cranked conditions",
        "running-teeth": "wheel idle",
        "cylinder-pressure": "pressure conditions",
    }


def test_a_signal_that_is_not_there_is_refused_before_the_analysis():
    known = AnalysisSetup(
        firing_order=FiringOrder.parse("1-3-4-2"), current_channel="1", mv_per_a=10.0
    )
    with pytest.raises(SetupError):
        AnalysisSetup.from_json(known.to_json() | {"signal": "unheard-of"})


def test_an_unknown_signal_is_refused_by_set_up_and_api() -> None:
    form = SetupFields({"signal": "unheard-of"})
    assert form.has_error("signal", "invalid_choice")
    with pytest.raises(ValidationError) as refused:
        RunAskedSerializer().fields["signal"].run_validation("unheard-of")
    assert says(str(refused.value), "setup_fields.no-such-signal")
