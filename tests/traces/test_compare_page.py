"""Two captures beside each other on a page: choosing, what is shown, and to whom."""

import json
import re
from dataclasses import replace

import pytest
from django.urls import reverse

from engines.models import Engine
from tests.traces.core.cranked import cranked
from tests.traces.judged_runs import judged_run
from tests.wording import says, wording
from traces.core.setup.conditions import Conditions
from traces.models import Run
from traces.selectors import compare as selector
from traces.services import known_good_keep, known_good_retire

WARM = Conditions(fuel_off=True, charger_off=True, throttle="closed", temperature="warm")
COLD = replace(WARM, temperature="cold")


@pytest.fixture
def before(add_read, cast, engine) -> Run:
    made = cranked("I4", 2, "one")
    return judged_run(
        add_read, cast.diagnostician, made, engine, name="before.csv", conditions=COLD
    )


@pytest.fixture
def after(add_read, cast, engine, before) -> Run:
    made = cranked("I4", 2, later_deg=250)
    return judged_run(
        add_read, cast.diagnostician, made, engine, name="after.csv", seed=2, conditions=WARM
    )


def address(run: Run, other: Run | None = None, more: str = "") -> str:
    base = reverse("traces:compare", args=[run.capture_id, run.pk])
    return f"{base}?with={other.pk}{more}" if other else base


@pytest.fixture
def shown(client_for, cast):
    def get(where: str, member=None, status: int = 200) -> str:
        answer = client_for(member or cast.mechanic).get(where)
        assert answer.status_code == status
        text: str = answer.content.decode()
        return text

    return get


def rows_of(text: str, caption: str) -> list[list[str]]:
    """Return the words of a table's rows, cell by cell."""
    table = re.search(rf"<caption[^>]*>{caption}</caption>(.*?)</table>", text, re.DOTALL)
    assert table
    body = table[1].split("<tbody>")[1]
    return [
        [" ".join(re.sub(r"<[^>]+>", " ", c).split()) for c in re.split(r"</t[hd]>", row)][:-1]
        for row in body.split("</tr>")[:-1]
    ]


def test_both_curves_the_table_and_the_conditions(before, after, shown):
    text = shown(address(after, before))
    assert "Earlier capture</strong>, dashed" in text
    assert text.count('data-curve="') == 2
    assert 'stroke-dasharray="8 5"' in text
    assert says(text, "conditions.one-other-do-not", first="cold", second="warm")
    figures = rows_of(text, wording("compared.relative-compression-both-captures"))
    (low,) = cranked("I4", 2, "one")[2]
    assert {row[0] for row in figures} == {"1", "2", "3", "4"}
    for row in figures:
        assert ("changed higher" in row[4]) == (row[0] == str(low))
        assert ("not told apart" in row[4]) == (row[0] != str(low))
    assert next(row for row in figures if row[0] == str(low))[3].startswith("+6")
    conditions = rows_of(text, "Conditions of both captures")
    assert ["Engine temperature", "cold", "warm", "differs"] in conditions
    assert ["Throttle", "closed", "closed", "–"] in conditions
    assert [row[0] for row in conditions if "rpm" in row[1]] == ["Cranking speed"]


def test_the_earlier_one_comes_first_from_either_side(before, after, shown):
    for text in (shown(address(after, before)), shown(address(before, after))):
        first, second = text.index(">before.csv</a>"), text.rindex(">after.csv</a>")
        assert "Earlier capture</strong>, dashed" in text
        assert first < second
        assert text.index("Earlier capture</strong>, dashed") < text.index(">before.csv</a>, ")


def test_a_repair_is_called_one(before, after, shown):
    for run, other in ((after, before), (before, after)):
        # what is called before is said by who leads here, not by when it was uploaded
        text = shown(address(run, other, "&occasion=repair"))
        assert text.index("Capture before</strong>, dashed") < text.index(f">{other.capture}</a>, ")
        assert text.index("Capture after</strong>, full line") < text.index(f">{run.capture}</a>, ")


def test_known_good_is_offered_first_and_lies_underneath(before, after, cast, shown):
    entry = known_good_keep(member=cast.diagnostician, run=after, note="gauge all 13 bar")
    text = shown(address(before))
    assert "gauge all 13 bar" in text
    assert text.index(wording("compare_choices.known-good-engine")) < text.index(
        f"?with={after.pk}"
    )
    assert text.count(f"?with={after.pk}") == 1, "offered once"
    text = shown(address(before, after))
    assert "Known-good capture</strong>, dashed" in text
    assert "Capture in question</strong>, full line" in text
    known_good_retire(member=cast.owner, entry=entry)
    text = shown(address(before))
    assert not says(text, "compare_choices.known-good-engine")
    assert "Earlier capture</strong>, dashed" in shown(address(before, after))


def test_what_is_offered(before, after, add_read, cast, shown):
    engine = before.setup.engine
    again = judged_run(
        add_read, cast.diagnostician, cranked("I4", 2, "one"), engine, capture=before.capture
    )
    six = Engine(key="six", name="A six", layout="I6", firing_order="1-5-3-6-2-4", source="x")
    six.save()
    other = judged_run(add_read, cast.diagnostician, cranked("I6", 2), six, name="six", seed=3)
    refused = judged_run(
        add_read, cast.diagnostician, cranked("I4", 2), engine, name="refused.csv", seed=4
    )
    Run.objects.filter(pk=refused.pk).update(verdict="not judged")
    text = shown(address(after))
    assert f"?with={again.pk}" in text, "the newest analysis of the other capture"
    assert f"?with={before.pk}" not in text
    text = shown(address(again))
    assert text.index(wording("compare_choices.other-analyses-capture")) < text.index(
        f"?with={before.pk}"
    )
    assert f"?with={after.pk}" in text
    for absent in (other, refused, again):
        assert f"?with={absent.pk}" not in text


def test_of_many_analyses_of_a_capture_the_newest_are_offered(
    before, add_read, cast, shown, monkeypatch
):
    monkeypatch.setattr(selector, "MOST_OFFERED", 1)
    made = cranked("I4", 2, "one")
    middle, last = (
        judged_run(add_read, cast.diagnostician, made, before.setup.engine, capture=before.capture)
        for _ in range(2)
    )
    text = shown(address(last))
    assert f"?with={middle.pk}" in text
    assert f"?with={before.pk}" not in text


def test_nothing_to_choose_is_said(before, shown):
    assert says(shown(address(before)), "compare_choices.nothing-compare-yet")


def test_without_an_engine_the_firing_order_decides(add_read, cast, shown):
    one = judged_run(add_read, cast.owner, cranked("I4", 2), name="one.csv")
    other = judged_run(add_read, cast.owner, cranked("I4", 2, "one"), name="two.csv", seed=2)
    assert f"?with={other.pk}" in shown(address(one))


def test_another_engine_is_refused_in_words(before, add_read, cast, shown):
    other = judged_run(add_read, cast.diagnostician, cranked("I6", 2), name="six.csv", seed=3)
    text = shown(address(before, other))
    assert says(text, "comparing.one-cylinders-other-different", first=4, second=6)
    assert "data-curve" not in text


def test_itself_and_what_is_not_analysed_are_refused_in_words(before, after, shown):
    assert says(shown(address(before, before)), "compare.one-same-analysis-choose")
    Run.objects.filter(pk=after.pk).update(state="queued", result=None, verdict="")
    assert "not analysed yet" in shown(address(before, after))


def test_a_run_of_before_the_angles_shows_figures_and_says_what_to_do(before, after, shown):
    result = before.result
    result["parts"]["cycle_fit"]["angle_deg"] = []
    Run.objects.filter(pk=before.pk).update(result=result)
    text = shown(address(after, before))
    assert says(text, "comparing.one-two-analysed-before")
    assert "data-curve" not in text
    assert len(rows_of(text, wording("compared.relative-compression-both-captures"))) == 4


class TestLookingCloser:
    @staticmethod
    def plot(run: Run, other: Run) -> str:
        base = reverse("traces:compare-plot", args=[run.capture_id, run.pk])
        return f"{base}?with={other.pk}"

    def test_both_curves_and_their_difference_by_crank_angle(self, before, after, shown):
        figure = json.loads(shown(self.plot(after, before)))
        first, second, difference = figure["data"]
        assert (first["name"], second["name"]) == ("earlier capture", "later capture")
        assert first["line"]["dash"] == "dash"
        assert "dash" not in second["line"]
        assert (first["x"][0], first["x"][-1]) == (0.0, 720.0)
        apart = [b - a for a, b in zip(first["y"], second["y"], strict=True)]
        assert difference["y"] == pytest.approx(apart, abs=1e-3)
        assert difference["visible"] is False
        (low,) = cranked("I4", 2, "one")[2]
        words = [a["text"] for a in figure["layout"]["annotations"]]
        assert f"{low} changed" in words
        assert len(words) == 4
        assert figure["layout"]["meta"]["unit"] == "deg"

    def test_without_curves_it_says_why(self, before, add_read, cast, shown):
        six = judged_run(add_read, cast.diagnostician, cranked("I6", 2), name="six.csv", seed=3)
        told = json.loads(shown(self.plot(before, six), status=404))
        assert says(told["error"], "comparing.one-cylinders-other-different")

    def test_who_gets_it(self, before, after, add_read, cast, shown):
        foreign = judged_run(add_read, cast.outsider, cranked("I4", 2), seed=5)
        shown(self.plot(before, foreign), status=404)
        shown(self.plot(before, after), cast.outsider, status=404)
        shown(reverse("traces:compare-plot", args=[before.capture_id, before.pk]), status=404)


def test_another_shops_run_is_not_there(before, after, add_read, cast, shown):
    foreign = judged_run(add_read, cast.outsider, cranked("I4", 2), name="theirs.csv", seed=5)
    shown(address(before, foreign), status=404)
    shown(address(before, foreign), cast.both_here, status=404)
    shown(address(before, after), cast.outsider, status=404)
    shown(address(foreign, before), cast.outsider, status=404)
    assert "theirs.csv" not in shown(address(before))


@pytest.mark.parametrize("asked", ["x", "-1", "0x1", "99999999999999999999", "1 OR 1"])
def test_what_is_no_run_is_not_there(before, shown, asked):
    shown(f"{address(before)}?with={asked}", status=404)


def test_the_way_back_stays_on_this_server(before, after, shown):
    assert 'href="/jobs/7/"' in shown(address(after, before, "&next=/jobs/7/"))
    assert "elsewhere" not in shown(address(after, before, "&next=//elsewhere.example/"))


def test_the_capture_leads_there(before, shown):
    text = shown(reverse("traces:run", args=[before.capture_id, before.pk]))
    assert address(before) in text
