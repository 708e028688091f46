"""Codes that name another cylinder or bank than the verdict are set beside it."""

import re

import pytest

from jobs.core.candidate_ranking import Misfires
from jobs.core.codes_beside import codes_beside

BANKS = {1: 1, 2: 1, 3: 1, 4: 2, 5: 2, 6: 2}


def _told(cylinders, codes=(), counts=None, banks=None):
    found = Misfires(counts=counts or {}, codes=list(codes), banks=banks or {})
    return codes_beside(cylinders, found)


@pytest.mark.parametrize(
    ("cylinders", "codes", "named"),
    [
        # SAE J2012: P030x misfire, P020x injector circuit, P035x coil circuit by cylinder
        ([2], [("P0304", "stored")], ["P0304"]),
        ([2], [("P0302", "stored")], []),
        ([2], [("P0302", "stored"), ("P0304", "pending")], ["P0304"]),
        ([2, 4], [("P0304", "stored")], []),
        ([2], [("P0203", "stored")], ["P0203"]),
        ([2], [("P0304", "stored"), ("P0301", "stored")], ["P0301", "P0304"]),
        ([], [("P0302", "stored")], ["P0302"]),
        ([2], [("P0300", "stored"), ("P0420", "stored")], []),
        ([], [], []),
    ],
)
def test_codes_of_cylinders(cylinders, codes, named):
    told = _told(cylinders, codes)
    assert re.findall(r"P0\d{3}", " ".join(told)) == named
    assert len(told) <= 1


@pytest.mark.parametrize(
    ("cylinders", "code", "is_told"),
    [
        # P0171 and P0174: mixture too lean, bank 1 and bank 2 (SAE J2012)
        ([5], "P0171", True),
        ([5], "P0174", False),
        ([2, 5], "P0171", False),
        ([], "P0171", True),
        ([5], "P0016", True),
    ],
)
def test_codes_of_banks(cylinders, code, is_told):
    assert bool(_told(cylinders, [(code, "stored")], banks=BANKS)) is is_told


def test_an_engine_of_one_row_has_no_other_bank():
    assert _told([2], [("P0174", "stored")]) == ()


@pytest.mark.parametrize(
    ("counts", "is_told"),
    [
        ({1: 0, 2: 3, 3: 0, 4: 140}, True),
        ({1: 0, 2: 140, 3: 0, 4: 3}, False),
        ({1: 30, 2: 20, 3: 25, 4: 40}, False),
        ({1: 0, 2: 0, 3: 0, 4: 3}, False),
    ],
)
def test_counts_that_stand_out_elsewhere(counts, is_told):
    assert bool(_told([2], counts=counts)) is is_told
