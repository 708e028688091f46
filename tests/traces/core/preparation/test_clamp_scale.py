"""A clamp scale that is off is named before anything is said of the starter."""

import pytest

from traces.core.preparation.clamp_scale import doubt_scale
from traces.core.preparation.preparation import prepare
from traces.core.readers import read


def test_a_seized_four_is_first_of_all_a_wrong_scale() -> None:
    # 1441 A at 10 mV/A are 144.1 A at 100 mV/A
    doubt = doubt_scale(1441.0, 4, "petrol", rpm=230.0, mv_per_a=10.0)
    assert doubt is not None
    assert doubt.too_high
    assert doubt.other_mv_per_a == pytest.approx(100.0)
    assert doubt.other_a == pytest.approx(144.1)


def test_too_little_for_the_engine_names_the_finer_scale() -> None:
    doubt = doubt_scale(16.0, 4, "petrol", rpm=230.0, mv_per_a=10.0)
    assert doubt is not None
    assert not doubt.too_high
    assert doubt.other_mv_per_a == pytest.approx(1.0)
    assert doubt.other_a == pytest.approx(160.0)


@pytest.mark.parametrize(
    ("mean_a", "cylinders", "fuel", "rpm"),
    [
        # textbook rows: 4 cylinders 100 to 185 A, 6 cylinders to 250 A, 8 cylinders over 300 A,
        # diesels 400 A and up; the rest (from memory)
        (100.0, 4, "petrol", 250.0),
        (185.0, 4, "petrol", 200.0),
        (450.0, 4, "petrol", 90.0),  # oil at -20 degrees
        (40.0, 2, "petrol", 400.0),
        (250.0, 6, "petrol", 200.0),
        (500.0, 8, "petrol", 150.0),
        (130.0, 4, "diesel", 250.0),
        (700.0, 4, "diesel", 120.0),
        (900.0, 6, "diesel", 150.0),
    ],
)
def test_what_starters_draw_is_no_doubt(mean_a, cylinders, fuel, rpm) -> None:
    assert doubt_scale(mean_a, cylinders, fuel, rpm=rpm, mv_per_a=10.0) is None


def test_a_current_for_a_slow_diesel_is_too_much_for_a_quick_petrol_engine() -> None:
    assert doubt_scale(650.0, 4, "diesel", rpm=230.0, mv_per_a=10.0) is None
    assert doubt_scale(650.0, 4, "petrol", rpm=110.0, mv_per_a=10.0) is None
    assert doubt_scale(650.0, 4, "petrol", rpm=230.0, mv_per_a=10.0) is not None


def test_amps_of_the_file_itself_have_no_other_scale() -> None:
    doubt = doubt_scale(1441.0, 4, "petrol", rpm=230.0)
    assert doubt is not None
    assert doubt.other_mv_per_a is None


def test_references_are_doubted_only_when_their_scale_is_off(references) -> None:
    sound = {n: r for n, r in references.items() if not r.truth["flaws"]}
    for name, reference in sound.items():
        done = prepare(read(reference.path).waveform, reference.setup)
        assert "scale-implausible" not in {f.code for f in done.findings}, name
        assert done.span is not None
        assert done.cranking is not None
        mean_a, rpm = done.span.level_a, done.cranking.rpm
        for factor in (0.1, 10.0):
            cylinders, fuel = len(reference.setup.firing_order), reference.setup.fuel
            doubt = doubt_scale(
                mean_a * factor, cylinders, fuel, rpm=rpm, mv_per_a=reference.setup.mv_per_a
            )
            assert doubt is not None, (name, factor)
            assert doubt.too_high == (factor > 1)
