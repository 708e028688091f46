"""Reading aids: every finding has one, and those about a report are true of it."""

import ast
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from string import Formatter

import numpy as np
import pytest

import traces.core
from engines.core.firing import FiringOrder
from tests.traces.simulated import simulated_together
from tests.wording import says, wording
from traces.core.analysis.any_signal import judge
from traces.core.findings.finding_texts import PHRASES, WORDINGS
from traces.core.findings.findings import Finding
from traces.core.report.aid import Aid
from traces.core.report.explanations import EXPLANATIONS, finding_aid
from traces.core.report.reading_aid import reading_aids
from traces.core.report.results import Estimate, Hump, Report
from traces.core.report.starter_figures import StarterFigures
from traces.core.setup.analysis_setup import AnalysisSetup, SyncSetup
from traces.core.signal_kinds import kind_of
from traces.core.signals.signal_findings import lower_of
from traces.simulator.scenario import Family, Scenario
from traces.simulator.scenarios import draw
from traces.simulator.simulate import crank

_CORE = Path(traces.core.__path__[0])
_NEXT = wording("reading_aid.why-next-high", hump="hump", strong="").rstrip(": ")


def _placeholders(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name}


@pytest.mark.parametrize("wording", sorted(WORDINGS))
def test_a_remedy_asks_for_no_figure_that_its_message_lacks(wording: str) -> None:
    text = WORDINGS[wording]
    assert _placeholders(text.remedy) - set(PHRASES) <= _placeholders(text.message)


def _raised() -> Iterator[tuple[str, str]]:
    """Yield code and severity of every finding that the analysis can make."""
    for text in WORDINGS.values():
        yield text.code, text.severity
    for path in _CORE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
                continue
            at = {"Finding": 0, "anew": 1}.get(node.func.id)
            if at is None or len(node.args) <= at + 1:
                continue
            code, grave = node.args[at], node.args[at + 1]
            if isinstance(code, ast.Constant) and isinstance(grave, ast.Constant):
                yield str(code.value), str(grave.value)
    # a voltage that rises is no crank: `reworded` makes it a stop
    yield "inverted", "stop"


def test_the_walk_over_the_code_finds_what_is_raised_there() -> None:
    found = set(_raised())
    assert {("lower-trust", "warn"), ("teeth-unclear", "stop"), ("no-signal", "stop")} <= found
    assert {("engine-caught", "stop"), ("engine-caught", "warn")} <= found


def test_every_finding_has_an_aid_of_two_sentences() -> None:
    for code, severity in sorted(set(_raised())):
        aid = finding_aid(Finding(code, severity))  # type: ignore[arg-type]
        assert len(aid) == 2, (code, severity)
        for sentence in aid:
            assert sentence[0].isupper(), sentence
            assert sentence.endswith("."), sentence
            assert ". " not in sentence, f"one sentence each: {sentence}"


def test_no_aid_is_left_that_nothing_raises() -> None:
    assert set(EXPLANATIONS) <= set(_raised())


@pytest.mark.parametrize("signal", ["battery-voltage", "crank-teeth"])
def test_other_signals_are_not_explained_by_a_clamp(signal) -> None:
    for code in lower_of(signal).wordings:
        for severity in ("stop", "warn", "note"):
            for sentence in finding_aid(Finding(code, severity), signal):
                assert "clamp" not in sentence or code == "inverted", sentence
                assert "amps" not in sentence, sentence


def test_an_unknown_code_gets_no_aid() -> None:
    assert finding_aid(Finding("of-a-later-version", "warn")) == ()


def _pair(layout: str, family: Family) -> tuple[Scenario, Scenario, int]:
    """Return an engine, the same with one leaking cylinder, and that one's number."""
    sound = draw(3, layout, "none", None, family, sync="720")
    weak = sound.engine.firing_order.sequence[1]
    cylinders = list(sound.engine.cylinders)
    cylinders[weak - 1] = replace(cylinders[weak - 1], fault_leak_mm2=4.0, faulty=True)
    engine = replace(sound.engine, cylinders=tuple(cylinders))
    return sound, replace(sound, engine=engine, fault="one"), weak


@pytest.mark.parametrize(("layout", "family"), [("I4", "b"), ("V8", "a")])
def test_what_is_said_of_the_next_hump_is_so_in_the_simulated_engine(
    layout: str, family: Family
) -> None:
    sound, leaking, _ = _pair(layout, family)
    order = sound.engine.firing_order
    gap_deg, next_deg = order.intervals_deg[1], order.tdc_angles_deg[2]
    speeds, peaks = [], []
    for track in crank([sound, leaking]):
        angle_deg = np.maximum.accumulate(np.degrees(track.angle_rad))
        cycles = np.arange(3, int(angle_deg[-1] // 720) - 1)
        top_deg = 720.0 * cycles + next_deg

        def at(before_deg: float, values, angle_deg=angle_deg, top_deg=top_deg) -> float:
            return float(np.interp(top_deg - before_deg, angle_deg, values).mean())

        speeds.append((at(gap_deg, track.engine_rad_s), at(0.45 * gap_deg, track.engine_rad_s)))
        near = [
            track.cable_a[(angle_deg > t - 0.6 * gap_deg) & (angle_deg < t + 0.4 * gap_deg)].max()
            for t in top_deg
        ]
        peaks.append(float(np.mean(near)))
    (sound_over, sound_into), (weak_over, weak_into) = speeds
    assert weak_over > sound_over  # over the weak cylinder's top the crank is less braked
    assert weak_into < sound_into  # but nothing pushes it into the next compression
    assert peaks[1] > peaks[0]  # where the starter has to pull harder


READ_HIGHER = ("I3", "I5", "V6")


@pytest.fixture(scope="module")
@simulated_together
def leaking_engines() -> dict[str, Scenario]:
    return {layout: _pair(layout, "a")[1] for layout in READ_HIGHER}


@pytest.mark.parametrize("layout", READ_HIGHER)
def test_the_next_hump_is_explained_where_it_is_read_higher(leaking_engines, layout: str) -> None:
    simulated = leaking_engines[layout]
    leaking, weak = simulated.scenario, _pair(layout, "a")[2]
    report = judge(simulated.waveform, leaking.setup())
    assert [e.cylinder for e in report.estimates if e.call == "suspect"] == [weak]
    order = leaking.engine.firing_order
    after = order.sequence[(order.position_of(weak) + 1) % len(order)]
    figure = next(e for e in report.estimates if e.cylinder == after)
    assert figure.hump_relative is not None
    assert figure.hump_relative > figure.relative
    assert abs(figure.relative - simulated.truth.relative_sound[after - 1]) < abs(
        figure.hump_relative - simulated.truth.relative_sound[after - 1]
    )
    text = _text(reading_aids(report, leaking.setup()), _NEXT)
    assert says(text, "reading_aid.good-cylinder-gives-most", weak=f"Cylinder {weak}")
    assert f" cylinder {after}," in text
    height = f"{100 * figure.hump_relative:.0f} %"
    assert says(text, "reading_aid.plain-height", plain=height)
    assert f"stands at {100 * figure.relative:.0f} %" in text


def _text(aids: tuple[Aid, ...], title: str) -> str:
    return " ".join(next(a for a in aids if a.title.startswith(title)).sentences)


def _setup(**changes) -> AnalysisSetup:
    values = {
        "firing_order": FiringOrder.parse("1-3-4-2"),
        "current_channel": "clamp",
        "mv_per_a": 10.0,
        "sync": SyncSetup("coil", 1),
        **changes,
    }
    return AnalysisSetup(**values)


def _report(relative: tuple[float, ...], plain: tuple[float, ...], **changes) -> Report:
    def call(share: float):
        return "suspect" if share < 0.8 else "watch" if share < 0.88 else "sound"

    sequence = (1, 3, 4, 2)
    low = tuple(sorted(c for c, r in zip(sequence, relative, strict=True) if r < 0.8))
    values = {
        "verdict": "uneven" if low else "even",
        "estimates": tuple(
            Estimate(i + 1, sequence[i], r, r - 0.04, r + 0.04, call(r), hump_relative=p)
            for i, (r, p) in enumerate(zip(relative, plain, strict=True))
        ),
        "candidates": (low,),
        "cylinders_known": True,
        **changes,
    }
    return Report(**values)


def _titles(report: Report, **changes) -> list[str]:
    return [aid.title for aid in reading_aids(report, _setup(**changes))]


def _next_is_told(report: Report) -> bool:
    return any(title.startswith(_NEXT) for title in _titles(report))


def test_of_two_low_ones_each_next_hump_has_its_own_title() -> None:
    titles = _titles(_report((0.4, 1.0, 0.4, 1.0), (0.4, 1.1, 0.4, 1.1)))
    assert titles[:3] == [
        wording("reading_aid.why-low", count=2, humps="humps", names="cylinders 1 and 4"),
        f"{_NEXT}: cylinder 3",
        f"{_NEXT}: cylinder 2",
    ]
    assert len(set(titles)) == len(titles)


def test_a_next_hump_that_is_not_read_higher_is_not_explained() -> None:
    assert _next_is_told(_report((0.5, 1.0, 1.0, 1.0), (0.5, 1.06, 1.0, 1.0)))
    assert not _next_is_told(_report((0.5, 1.0, 1.0, 1.0), (0.5, 1.04, 1.0, 1.0)))
    # a hump that stands high by itself follows no weak one
    assert not _next_is_told(_report((0.5, 1.0, 1.0, 1.0), (0.5, 1.0, 1.3, 1.0)))


def _topped(report: Report, tops: tuple[float, ...]) -> Report:
    """Return a report whose humps reach so many amps, three cycles long."""
    return replace(
        report,
        humps=tuple(
            Hump(0.6 * cycle + 0.15 * i, i + 1, None, cycle + 1, top, top / 2)
            for cycle in range(3)
            for i, top in enumerate(tops)
        ),
    )


def test_a_next_hump_that_reaches_higher_is_explained_too() -> None:
    level = _report((0.2, 1.0, 1.0, 1.0), (0.25, 1.0, 1.0, 1.0))
    text = _text(reading_aids(_topped(level, (160, 400, 350, 360)), _setup()), _NEXT)
    assert says(text, "reading_aid.reaches-more-current-other", top=13)
    assert "by plain height" not in text
    assert not _next_is_told(_topped(level, (160, 360, 350, 360)))
    # an offset the other way round says nothing
    assert not _next_is_told(_topped(level, (-160, -400, -350, -360)))
    # volts and revolutions fall where amps rise
    for signal in ("battery-voltage", "crank-teeth"):
        assert not any(
            title.startswith("Why the next")
            for title in _titles(_topped(level, (160, 400, 350, 360)), signal=signal)
        )


def test_the_last_of_the_firing_order_comes_before_the_first() -> None:
    report = _report((1.0, 1.0, 1.0, 0.4), (1.2, 1.0, 1.0, 0.4))
    text = _text(reading_aids(report, _setup()), _NEXT)
    assert says(text, "reading_aid.good-cylinder-gives-most", weak="Cylinder 2")
    assert " cylinder 1," in text


def test_a_second_weak_one_is_not_called_sound() -> None:
    report = _report((0.4, 0.6, 1.0, 1.0), (0.4, 0.75, 1.0, 1.0))
    text = _text(reading_aids(report, _setup()), _NEXT)
    assert says(
        text, "reading_aid.weaker-lets-look", figure="cylinder 3 stands at 60 %", hump="hump"
    )


def test_without_a_sync_no_cylinder_is_named() -> None:
    report = _report(
        (0.5, 1.0, 1.0, 1.0),
        (0.5, 1.2, 1.0, 1.0),
        cylinders_known=False,
        candidates=((1,), (3,), (4,), (2,)),
    )
    aids = reading_aids(report, _setup(sync=None))
    assert says([a.title for a in aids], "reading_aid.why-places-not-cylinders")
    assert says([a.title for a in aids], "reading_aid.why-sets-cylinders-fit", count=4)
    for aid in aids:
        for sentence in (aid.title, *aid.sentences):
            assert not any(f"ylinder {n}" in sentence for n in (1, 2, 3, 4)), sentence


def test_the_limit_inside_of_an_interval_is_named() -> None:
    crossing = _report((0.78, 1.0, 1.0, 1.0), (0.8, 1.0, 1.0, 1.0))
    assert says(
        _text(reading_aids(crossing, _setup()), wording("reading_aid.what-interval-means")),
        "reading_aid.limit-suspect-lies-inside",
        which="cylinder 1",
    )
    clear = _report((0.5, 1.0, 1.0, 1.0), (0.5, 1.0, 1.0, 1.0))
    assert says(
        _text(reading_aids(clear, _setup()), wording("reading_aid.what-interval-means")),
        "reading_aid.limit-suspect-lies-inside-no",
    )


def test_even_says_what_it_cannot_say() -> None:
    even = _report((0.97, 1.0, 1.02, 1.01), (1.0, 1.0, 1.0, 1.0))
    assert "between 97 % and 102 %" in _text(
        reading_aids(even, _setup()), wording("reading_aid.what-even-cannot-say")
    )
    assert not says(
        _titles(_report((0.5, 1, 1, 1), (0.5, 1, 1, 1))), "reading_aid.what-even-cannot-say"
    )
    near = _report((1.0, 0.84, 1.02, 1.01), (1.0, 1.0, 1.0, 1.0))
    watched = replace(near.estimates[1], call="watch")
    near = replace(near, estimates=(near.estimates[0], watched, *near.estimates[2:]))
    said = _text(reading_aids(near, _setup()), wording("reading_aid.what-even-cannot-say"))
    assert says(said, "reading_aid.none-low-watch", which=f"cylinder {watched.cylinder}")
    assert "falls behind" not in said


def test_the_first_turns_are_explained_where_some_were_left_out() -> None:
    title = "Why the first turns are left out"
    report = _report((1.0,) * 4, (1.0,) * 4, judged_from_s=1.4)
    assert title not in _titles(report)
    begun = replace(report, starter=StarterFigures(start_s=0.5))
    text = _text(reading_aids(begun, _setup()), title)
    assert says(text, "reading_aid.crank-began-s-judging", begun_s="0.50", left_s="0.9")
    at_once = replace(report, starter=StarterFigures(start_s=1.35))
    assert title not in _titles(at_once)


def test_what_was_turned_and_what_was_not_judged_is_explained() -> None:
    turned = _report((1.0,) * 4, (1.0,) * 4, inverted=True)
    assert says(_titles(turned), "reading_aid.why-curve-turned-over")
    assert _titles(Report(verdict="not judged")) == [wording("reading_aid.what-not-judged-means")]


@pytest.mark.parametrize("signal", ["battery-voltage", "crank-teeth"])
def test_other_signals_have_words_of_their_own(signal) -> None:
    report = _report((0.5, 1.0, 1.0, 1.0), (0.5, 1.2, 1.0, 1.0))
    aids = reading_aids(report, _setup(signal=signal))
    assert says(
        [aid.title for aid in aids],
        "reading_aid.why-next-high",
        hump=kind_of(signal).hump_words.hump,
    )
    for aid in aids:
        for sentence in aid.sentences:
            assert "starter" not in sentence or "inrush" in sentence, sentence
            assert "current" not in sentence, sentence
