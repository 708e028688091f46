"""Units against NIST Special Publication 811, appendix B.8."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.pressure import KPA_PER, from_kpa, percent, shown, to_kpa


def test_psi_and_bar():
    # NIST SP 811 appendix B.8: 1 psi = 6.894757 kPa, 1 bar = 100 kPa.
    assert to_kpa(1, "psi") == pytest.approx(6.894757)
    assert to_kpa(1, "bar") == 100


@given(st.floats(0, 5000), st.sampled_from(sorted(KPA_PER)))
def test_there_and_back(value_kpa, unit):
    assert to_kpa(from_kpa(value_kpa, unit), unit) == pytest.approx(value_kpa)


def test_as_a_gauge_reads_it():
    assert shown(1034, "kPa") == "1034 kPa"
    assert shown(1034, "bar") == "10.3 bar"
    assert shown(1034, "psi") == "150 psi"
    assert percent(0.615) == "62 %"


def test_a_unit_that_is_none():
    with pytest.raises(ValueError, match="use kPa, bar or psi"):
        to_kpa(1, "inHg")
