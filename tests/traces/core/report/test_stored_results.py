"""Results as they are stored: typed parts, read back as written, and those of earlier versions."""

import json
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest

from traces.core.report.cycle_uses import CycleUse, CycleUses
from traces.core.report.parts import (
    NO_PARTS,
    CycleFit,
    MeasuredEventAngle,
    OpenedPlug,
    PlainFigures,
    ReportParts,
    SecondCompression,
    VoltageFigures,
)
from traces.core.report.publishing import published, published_whole
from traces.core.report.results import Report
from traces.core.report.stored_schema import STORED_SCHEMA

FIRST_FORM = Path(__file__).parent / "stored_1"
"""Results of simulated captures as the version before typed parts stored them."""

SECOND_FORM = Path(__file__).parent / "stored_2"
"""Those whose sentences were stored as they were told in English."""

NAMES = sorted(path.stem for path in FIRST_FORM.glob("*.json"))


def stored(name: str) -> dict[str, Any]:
    return dict(json.loads((FIRST_FORM / f"{name}.json").read_text(encoding="utf-8")))


def as_json(value: object) -> Any:
    return json.loads(json.dumps(value, allow_nan=False))


@pytest.mark.parametrize("name", NAMES)
class TestTheFirstForm:
    def test_programs_are_given_it_to_the_last_figure(self, name: str) -> None:
        old = stored(name)
        assert old["schema"] == 1
        assert as_json(published_whole(Report.from_json(old))) == old

    def test_it_is_written_anew_in_the_newest_form(self, name: str) -> None:
        report = Report.from_json(stored(name))
        new = as_json(report.to_json())
        assert new["schema"] == STORED_SCHEMA == 3
        assert Report.from_json(new) == report

    def test_the_published_result_has_what_it_had(self, name: str) -> None:
        old = stored(name)
        given = as_json(
            published(Report.from_json(old), file="a.csv", signal="starter-current", seconds=0.1)
        )
        assert given["schema"] == 1
        assert given["firing_angles"] == old["extra"].get("firing_angles")
        assert given["event_angle"] == old["extra"].get("event_angle")
        kept = set(given) & set(old) - {"schema"}
        assert len(kept) > 10
        assert {k: given[k] for k in kept} == {k: old[k] for k in kept}


@pytest.mark.parametrize("path", sorted(SECOND_FORM.glob("*.json")), ids=lambda path: path.stem)
def test_sentences_of_the_second_form_stand_as_they_were_told(path: Path) -> None:
    old = json.loads(path.read_text(encoding="utf-8"))
    assert old["schema"] == 2
    report = Report.from_json(old)
    assert [f.published() for f in report.findings] == old["findings"]
    assert str(report.sync_note) == old["sync_note"]
    whole = as_json(published_whole(report))
    assert whole["starter"] == old["starter"]
    assert [c["words"] for c in whole["extra"]["cycles"]] == [
        c["words"] for c in old["parts"]["cycle_uses"]["cycles"]
    ]
    assert Report.from_json(as_json(report.to_json())) == report


def test_every_part_is_among_them() -> None:
    found = {
        f.name
        for name in NAMES
        for f in fields(ReportParts)
        if getattr(Report.from_json(stored(name)).parts, f.name) is not None
    }
    # running engines and pressures came after these forms
    assert found == {f.name for f in fields(ReportParts)} - {"running", "pressure"}


def test_figures_stand_in_their_parts() -> None:
    plug = Report.from_json(stored("current-opened-plug"))
    assert plug.parts.opened_plug == OpenedPlug(cylinder=3, position=1, names_the_others=True)
    assert plug.open_cylinder == 3
    assert plug.parts.event_angle == MeasuredEventAngle(
        angle_deg=-8.5,
        spread_deg=5.0,
        count=9,
        other_angles_deg=(),
        event="cam",
        cylinder=2,
        channel="B",
    )
    shut = Report.from_json(stored("current-second-compression"))
    assert shut.parts.second_compression == SecondCompression(of=0, on=2)
    banks = Report.from_json(stored("current-banks"))
    assert banks.parts.firing_angles is not None
    assert banks.parts.firing_angles.intervals == "150/90"
    teeth = Report.from_json(stored("teeth"))
    assert teeth.parts.teeth is not None
    assert (teeth.parts.teeth.teeth, teeth.parts.teeth.pattern) == (60, "60-2")
    plain = Report.from_json(stored("voltage-plain"))
    assert plain.parts.plain == PlainFigures("even", (1.009, 1.013, 0.971, 1.006))
    assert plain.parts.cycle_fit is None
    assert plain.parts.voltage == VoltageFigures(12.33)


def test_cycles_say_themselves_whether_they_are_used() -> None:
    old = stored("voltage")
    report = Report.from_json(old)
    assert [c.used for c in report.engine_cycles] == [c["used"] for c in old["extra"]["cycles"]]
    assert {c.used for c in report.engine_cycles} == {True, False}
    assert "used" not in report.to_json()["parts"]["cycle_uses"]["cycles"][0]


class TestStillOlder:
    """Results of the first form lack what later versions of it told."""

    def old(self, **extra: object) -> Report:
        return Report.from_json(stored("current-refused") | {"extra": extra})

    def test_without_anything_but_figures(self) -> None:
        assert self.old().parts == NO_PARTS
        assert (self.old().engine_cycles, self.old().excluded) == ((), ())

    def test_a_fit_without_angles_and_level(self) -> None:
        fit = self.old(cycle_fit={"measured": [1.0, 2.0], "model": [1.5, 1.5]}).parts.cycle_fit
        assert fit == CycleFit((1.0, 2.0), (1.5, 1.5))
        assert fit.level is None

    def test_figures_of_a_twin_that_were_others_are_left_out(self) -> None:
        assert self.old(twin={"stall_over_mean": 2.0, "measured": [1.0]}).parts == NO_PARTS

    def test_teeth_without_their_speed(self) -> None:
        teeth = self.old(wheel={"teeth": 36, "missing": 4}).parts.teeth
        assert teeth is not None
        assert (teeth.teeth, teeth.missing, teeth.pattern) == (36, 4, "")
        assert (teeth.speed_at_s, teeth.speed_rpm, teeth.speed_by_angle) == ((), (), ())

    def test_without_banks_and_starter(self) -> None:
        old = stored("current-banks")
        del old["banks"], old["bank_difference"], old["starter"]
        report = Report.from_json(old)
        assert (report.banks, report.bank_difference, report.starter) == ((), None, None)


@pytest.mark.parametrize("schema", [None, 0, 4, "3"])
def test_a_form_of_another_version_is_refused(schema: object) -> None:
    with pytest.raises(ValueError, match="schema"):
        Report.from_json(stored("voltage") | {"schema": schema})


def test_no_part_is_lost_in_silence() -> None:
    new = Report.from_json(stored("voltage")).to_json()
    for name, part in (("later", {}), ("plain", {"pattern": "even", "relative": [], "more": 1})):
        with pytest.raises(ValueError, match=r"later|more"):
            Report.from_json(new | {"parts": new["parts"] | {name: part}})
    with pytest.raises(KeyError, match="relative"):
        Report.from_json(new | {"parts": new["parts"] | {"plain": {"pattern": "even"}}})


def test_later_parts_count_before_earlier_ones() -> None:
    first = ReportParts(cycle_fit=CycleFit((1.0,), (1.0,)), second_compression=None)
    cycles = CycleUses((CycleUse(0.0, 0.5),))
    second = ReportParts(cycle_fit=CycleFit((2.0,), (2.0,)), cycle_uses=cycles)
    assert first.with_those_of(second) == second
    assert second.with_those_of(replace(first, cycle_fit=None)) == second
    assert second.with_those_of(first) == replace(second, cycle_fit=first.cycle_fit)
