"""The fitted cycle's picture and the strip cycle by cycle, against hand-worked places."""

import re
from dataclasses import replace

import numpy as np
import pytest

from shopdiag.people.core.words import NOTHING, say
from tests.wording import says, says_only
from traces.core.drawings.fitted_cycle import CyclePicture, cycle_picture
from traces.core.drawings.strip import Strip, cycle_columns, cycle_strip
from traces.core.humps.reference import Limits
from traces.core.report.cycle_uses import CycleUse, CycleUses
from traces.core.report.parts import NO_PARTS, CycleFit, ReportParts
from traces.core.report.results import Estimate, Report

ORDER = (1, 3, 4, 2)
LIMITS = Limits(0.80, 0.88)
POINTS = 240


def _fit(low=(3,), tdc_0=20.0, off=0.0):
    """A cycle with a hump of a third of the mean at each top dead centre, half that for `low`."""
    angle_deg = np.arange(POINTS) * 720.0 / POINTS
    tdc_deg = [(tdc_0 + 180.0 * i) % 720.0 for i in range(4)]
    measured = np.full(POINTS, 0.9)
    for cylinder, tdc in zip(ORDER, tdc_deg, strict=True):
        away = (angle_deg - tdc + 360) % 720 - 360
        measured += (0.15 if cylinder in low else 0.3) * np.exp(-((away / 40) ** 2))
    return {
        "measured": measured.tolist(),
        "model": (measured + off).tolist(),
        "angle_deg": angle_deg.tolist(),
        "tdc_deg": tdc_deg,
        "level": 150.0,
        "rest": 0.0,
        "begins_at": 0.0,
    }


def _cycles(reasons):
    return tuple(
        CycleUse(0.5 * i, 0.5 * (i + 1), r, NOTHING if r is None else say(f"because of {r}"))
        for i, r in enumerate(reasons)
    )


def _report(low=(3,), known=True, reasons=(None,) * 5, per_cycle=5, fit=None) -> Report:
    estimates = tuple(
        Estimate(
            position=i + 1,
            cylinder=c if known else None,
            relative=0.5 if c in low else 1.0,
            low=0.4,
            high=1.1,
            call="suspect" if c in low else "sound",
            per_cycle=tuple((0.5 if c in low else 1.0) + 0.01 * k for k in range(per_cycle)),
        )
        for i, c in enumerate(ORDER)
    )
    return Report(
        verdict="uneven" if low else "even",
        estimates=estimates,
        cylinders_known=known,
        parts=ReportParts(
            cycle_uses=CycleUses(_cycles(reasons)), cycle_fit=CycleFit(**(fit or _fit(low)))
        ),
    )


def _picture(report: Report, *, unit: str = "A", scale: float | None = None) -> CyclePicture:
    picture = cycle_picture(report, axis="amps", name="Cranking current", unit=unit, scale=scale)
    assert picture
    return picture


def _strip(report: Report) -> Strip:
    strip = cycle_strip(report, LIMITS)
    assert strip
    return strip


def _points(path: str) -> np.ndarray:
    numbers = re.findall(r"-?[\d.]+", path)
    return np.array(numbers, dtype=float).reshape(-1, 2)


class TestPicture:
    def test_humps_stand_in_firing_order_at_their_top_dead_centres(self):
        picture = _picture(_report())
        assert [h.name for h in picture.humps] == ["1", "3", "4", "2"]
        gaps = np.diff([h.x for h in picture.humps])
        # 720 degrees over 408 units: 180 of them make 102
        assert gaps == pytest.approx([102.0] * 3, abs=0.5)
        assert [t.label for t in picture.angles] == ["−90", *(str(a) for a in range(0, 631, 90))]
        zero = next(t.at for t in picture.angles if t.label == "0")
        # the top of a curve of 3-degree points
        assert picture.humps[0].x == pytest.approx(zero, abs=1.8)
        assert picture.from_tdc == "cylinder 1"

    @pytest.mark.parametrize("tdc_0", [0.0, 20.0, 355.0, 700.0])
    def test_where_the_event_stands_does_not_move_the_picture(self, tdc_0):
        picture = _picture(_report(fit=_fit(tdc_0=tdc_0)))
        usual = _picture(_report(fit=_fit(tdc_0=20.0)))
        assert [h.x for h in picture.humps] == pytest.approx([h.x for h in usual.humps], abs=2)
        curve = _points(picture.measured)
        assert (np.diff(curve[:, 0]) >= 0).all()
        assert curve[0, 0] == picture.frame.left
        assert curve[-1, 0] == picture.frame.right
        # a cycle repeats: it ends as high as it began
        assert curve[0, 1] == pytest.approx(curve[-1, 1], abs=0.2)

    def test_the_low_one_is_hatched_and_says_so(self):
        picture = _picture(_report())
        assert [(h.word, h.hatch) for h in picture.humps] == [
            ("", ""),
            ("suspect", "close"),
            ("", ""),
            ("", ""),
        ]
        assert picture.humps[1].patch.endswith("Z")
        assert "cylinder 3 suspect" in picture.words

    def test_both_curves_are_in_amps_and_their_distance_is_told(self):
        picture = _picture(_report(fit=_fit(off=0.01)))
        # 0.01 of 150 A everywhere; the swing is 0.3 of it
        assert "1.5 A" in picture.apart
        assert re.search(r"\b3\.[2-4] %", picture.apart)
        measured, fitted = _points(picture.measured), _points(picture.fitted)
        assert (fitted[:, 1] < measured[:, 1]).all()
        labels = [float(t.label) for t in picture.values]
        assert 130 < labels[0] < labels[-1] < 190

    def test_no_name_stands_in_the_words_above(self):
        picture = _picture(_report())
        words_baseline, letters = 16, 18
        assert min(h.name_y for h in picture.humps) - letters > words_baseline

    def test_without_a_scale_it_is_told_in_shares(self):
        picture = _picture(_report(), unit="%", scale=100.0)
        assert [float(t.label) for t in picture.values][-1] <= 120

    def test_older_results_have_curves_without_names(self):
        fit = {k: v for k, v in _fit().items() if k in ("measured", "model")}
        picture = _picture(_report(fit=fit), unit="%", scale=100.0)
        assert picture.humps == ()
        assert picture.from_tdc == ""
        assert next(t.label for t in picture.angles) == "0"

    def test_nothing_fitted_is_no_picture(self):
        bare = replace(_report(), parts=NO_PARTS)
        assert cycle_picture(bare, axis="amps", name="Cranking current", unit="A") is None


class TestStrip:
    def test_a_bar_for_each_cylinder_in_each_cycle_used(self):
        strip = _strip(_report())
        (block,) = strip.blocks
        assert [r.name for r in block.rows] == ["1", "3", "4", "2"]
        assert [c.number for c in block.columns] == [1, 2, 3, 4, 5]
        assert len(block.bars) == 20
        assert strip.numbered
        # 1.2 fills a row: 1.0 is 5/6 of its 26 units
        sound = next(b for b in block.bars if b.title.startswith("cylinder 1, cycle 1"))
        assert sound.height == pytest.approx(26 / 1.2, abs=0.01)
        assert sound.number == "100"

    def test_low_cells_are_hatched_and_named(self):
        (block,) = _strip(_report()).blocks
        low = [b for b in block.bars if b.title.startswith("cylinder 3")]
        assert {b.hatch for b in low} == {"close"}
        assert low[0].title == "cylinder 3, cycle 1: 50 %, suspect"
        assert {b.hatch for b in block.bars if b not in low} == {""}
        assert says(block.words, "strip.low", what="cylinder", name=3, count=5, all=5)

    def test_cells_of_a_high_cylinder_are_called_high(self):
        report = _report(low=())
        cells = tuple(1.1 + 0.1 * k for k in range(5))
        high = replace(report.estimates[1], relative=1.3, low=1.2, high=1.4, per_cycle=cells)
        one, _, *others = report.estimates
        (block,) = _strip(replace(report, estimates=(one, high, *others))).blocks
        told = [b.title.rsplit(", ")[-1] for b in block.bars if f"cylinder {ORDER[1]}," in b.title]
        assert told == ["good", "high", "high", "high", "high"]

    def test_cycles_left_out_are_gaps_with_their_reason(self):
        reasons = ("run-up", None, None, "level", None, None, None, "cut")
        strip = _strip(_report(reasons=reasons))
        (block,) = strip.blocks
        assert [c.reason for c in block.columns] == [
            "run-up",
            "",
            "",
            "current",
            "",
            "",
            "",
            "cut off",
        ]
        gaps_x = [c.middle for c in block.columns if c.reason]
        assert not {b.middle for b in block.bars} & set(gaps_x)
        assert says_only(strip.left_out[0], "strip.cycle", number=1)
        assert says(block.words, "strip.cycle-left-out", number=4, words="because of level")

    def test_figures_go_to_the_cycles_used_in_order(self):
        columns = cycle_columns(_report(reasons=("shape", None, "hand", *(None,) * 4)))
        assert [c.number for c in columns if c.values] == [2, 4, 5, 6, 7]
        assert [c.values[0] for c in columns if c.values] == pytest.approx(
            [1, 1.01, 1.02, 1.03, 1.04]
        )

    def test_results_that_do_not_tell_their_cycles_count_figures_only(self):
        old = replace(_report(), parts=NO_PARTS)
        assert [c.number for c in cycle_columns(old)] == [1, 2, 3, 4, 5]

    def test_many_cycles_go_into_blocks_and_very_many_are_cut(self):
        strip = _strip(_report(reasons=(None,) * 130, per_cycle=130))
        assert not strip.numbered
        assert [len(b.columns) for b in strip.blocks] == [24] * 5
        assert strip.cut == 10
        assert max(b.width for b in strip.blocks) <= 345

    def test_places_are_no_cylinders(self):
        strip = _strip(_report(known=False))
        assert [r.name for r in strip.blocks[0].rows] == ["A", "B", "C", "D"]
        assert says(strip.blocks[0].words, "strip.low", what="place", name="B", count=5, all=5)

    def test_nothing_measured_is_no_strip(self):
        assert cycle_strip(Report(verdict="not judged"), LIMITS) is None
