"""What the order of an agreed repair asks for; no database."""

import pytest

from jobs.core.after_repair import (
    STOP_OPENED_REPAIR,
    STOP_REPAIR,
    BadPart,
    checks_after_repair,
    parts_found_bad,
    repair_request,
    stop_repair_when,
)
from jobs.core.groups import FaultGroup
from jobs.core.request import LONGEST_REQUEST
from jobs.core.tests_wanted import WHOLE_ENGINE, recorded_as
from jobs.core.wanted_test_texts import LONGEST_WORDS
from jobs.models import CylinderFinding
from tests.wording import named, says_only


@pytest.mark.parametrize("group", FaultGroup)
@pytest.mark.parametrize("cylinders", [(), (3,)])
@pytest.mark.parametrize("was_captured", [True, False])
def test_every_check_can_be_recorded_and_fits_the_sheet(group, cylinders, was_captured):
    checks = checks_after_repair(group, cylinders, was_captured=was_captured, was_shown_idling=True)
    assert checks
    for check in checks:
        kind = recorded_as(check.key)
        assert kind in CylinderFinding.Test.values
        # which cylinder a gauge is put on is the mechanic's choice where none is named
        assert kind in WHOLE_ENGINE or kind == "gauge_dry" or cylinders, check.key
        assert len(check.words) <= LONGEST_WORDS


@pytest.mark.parametrize(
    ("was_captured", "proof"), [(True, "repaired_capture"), (False, "repaired_gauge")]
)
def test_without_a_capture_before_it_a_gauge_proves_a_repair(was_captured, proof):
    checks = checks_after_repair(
        FaultGroup.COMPRESSION, (3,), was_captured=was_captured, was_shown_idling=True
    )
    assert [c.key for c in checks] == ["repaired_bar", "repaired_leak", proof]


def test_what_the_idle_showed_is_proved_by_the_idle():
    for was_shown, keys in (
        (True, ["repaired_counts", "repaired_idle"]),
        (False, ["repaired_counts"]),
    ):
        checks = checks_after_repair(
            FaultGroup.IGNITION, (3,), was_captured=True, was_shown_idling=was_shown
        )
        assert [c.key for c in checks] == keys


@pytest.mark.parametrize(
    ("cylinders", "scope", "line"),
    [
        (
            [3],
            "Exhaust valve.",
            named(
                "after_repair.carry-out-agreed-repair", cylinders="cylinder 3", what="Exhaust valve"
            ),
        ),
        (
            [4, 3],
            "",
            named("after_repair.repair-without-words", cylinders="cylinders 3 and 4"),
        ),
        (
            [],
            "Coil\nand plugs",
            named("after_repair.repair-without-cylinders", what="Coil and plugs"),
        ),
    ],
)
def test_the_request_names_what_was_agreed(cylinders, scope, line):
    assert says_only(repair_request(cylinders, scope), line)


def test_a_long_scope_is_cut_where_the_field_ends():
    line = repair_request([3], "x" * 900)
    assert (len(line), line[-1]) == (LONGEST_REQUEST, "…")


COIL = BadPart("Coil", 2)


@pytest.mark.parametrize(
    ("cylinders", "scope", "line"),
    [
        ((), "", "Carry out the agreed repair: coil of cylinder 2."),
        ((2,), "", "Carry out the agreed repair: coil of cylinder 2."),
        ((2,), "New coil", "Carry out the agreed repair on cylinder 2: New coil."),
    ],
)
def test_the_request_names_the_part_that_was_found_bad(cylinders, scope, line):
    assert repair_request(cylinders, scope, (COIL,)) == line
    assert COIL.words in parts_found_bad((COIL,))


@pytest.mark.parametrize(
    ("group", "may_hold_liquid", "stop"),
    [
        (FaultGroup.IGNITION, False, STOP_REPAIR),
        (FaultGroup.IGNITION, True, STOP_OPENED_REPAIR),
        (FaultGroup.COMPRESSION, False, STOP_OPENED_REPAIR),
    ],
)
def test_liquid_stops_only_a_repair_that_may_let_it_out(group, may_hold_liquid, stop):
    assert stop_repair_when(group, may_hold_liquid=may_hold_liquid) == stop
