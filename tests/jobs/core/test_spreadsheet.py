"""Rows for a spreadsheet."""

import csv
from io import StringIO

import pytest

from jobs.core.spreadsheet import as_csv


@pytest.mark.parametrize("text", ["=1+1", "+49", "-2", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "  =1"])
def test_what_somebody_typed_is_never_a_formula(text):
    assert next(csv.reader(StringIO(as_csv([text], []), newline=""))) == [f"'{text}"]


def test_what_is_no_formula_stays_as_it_is():
    text = as_csv(["A, b", 'say "x"'], [["Casey", -2, 0.75]])
    assert text == '"A, b","say ""x"""\r\nCasey,-2,0.75\r\n'
