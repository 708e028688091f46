"""Units that stand by themselves, and columns that have one already."""

from dataclasses import replace

from traces.core.readers.text_headings import _in_unit
from traces.core.readers.text_names import ColumnName


def test_only_a_signal_without_a_unit_takes_one() -> None:
    bare = ColumnName("clamp", "signal", None)
    taken = _in_unit(bare, "mV")
    assert taken is not None
    assert (taken.unit, taken.unit_known) == ("mV", True)
    assert _in_unit(bare, "furlong") is bare
    assert _in_unit(None, "mV") is None
    for settled in (replace(bare, unit="A"), ColumnName("Time", "time", None)):
        assert _in_unit(settled, "mV") is settled
