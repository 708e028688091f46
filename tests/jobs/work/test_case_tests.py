"""What a case and the customer's copy take of a job's tests."""

import json

import pytest

from jobs.models import VisitCapture
from jobs.selectors.case_tests import case_test_words
from jobs.selectors.case_tests import tests_beside_capture as beside_capture
from jobs.selectors.customer_tests import tests_told as told_customer
from jobs.services.findings import NewFinding, finding_add
from jobs.services.swaps import Swapped, swap_add
from tests.jobs.work.kept_order import cast, kept, order, taken, visit
from traces.core.case import CaseTest
from traces.core.case.case_tests import checked_tests

__all__ = ["cast", "kept", "order", "taken", "visit"]

MARK = "Marked-Person-7316"


@pytest.fixture
def tested(order, cast):
    """An order with a leak-down, an injector balance and a swap, words of somebody among them."""
    leak = NewFinding(3, "leak_down", "bad", leak_percent=48.0, heard_at="exhaust", words=MARK)
    injector = NewFinding(2, "injector", "good", figures={"drop_kpa": 68.0})
    other = NewFinding(3, "other", "bad", words=MARK)
    for found in (leak, injector, other):
        finding_add(order=order, member=cast.mechanic, found=found)
    swapped = Swapped("coil", from_cylinder=3, to_cylinder=1, followed="no", confirmed=True)
    swap_add(order=order, member=cast.mechanic, swapped=swapped)
    return order


def test_a_case_takes_codes_and_figures_and_nobodys_words(tested):
    found = beside_capture(tested.judgement.run.capture)
    assert found == (
        CaseTest("leak_down", "bad", 3, figures={"leak_percent": 48.0, "heard_at": "exhaust"}),
        CaseTest("injector", "good", 2, figures={"drop_kpa": 68.0}),
        CaseTest("swap", "good", 3, figures={"part": "coil", "to_cylinder": 1.0}),
    )
    told = json.loads(json.dumps([test.to_json() for test in found]))
    assert MARK not in json.dumps(told)
    assert checked_tests(told) == found


def test_whoever_opens_it_reads_them_in_words(tested):
    leak, injector, swap = beside_capture(tested.judgement.run.capture)
    assert "48 %" in case_test_words(leak, "kPa")
    assert "9.9 psi" in case_test_words(injector, "psi")
    assert "cylinder 3" in case_test_words(swap, "kPa")


@pytest.mark.parametrize(
    "test",
    [
        CaseTest("of_a_later_version", "bad", 1),
        CaseTest("injector", "bad", 1, figures={"drop_kpa": "many", "unheard_of": 1.0}),
        CaseTest("plugs", "bad", 1, figures={"plug_look": "unheard_of", "gap_mm": 1.0}),
        CaseTest("leak_down", "bad", 1, figures={"leak_percent": "many", "heard_at": "attic"}),
        CaseTest("swap", "bad", 1, figures={"part": "wheel", "to_cylinder": 2.0}),
    ],
)
def test_what_this_version_does_not_know_breaks_nothing(test):
    assert case_test_words(test, "kPa")


def test_the_customer_reads_what_was_bad_and_what_was_fine(tested, client_for, cast):
    bad, fine = told_customer(tested.visit)
    assert "48 %" in bad
    assert MARK not in bad + fine
    assert "injectors" in fine


def test_a_capture_of_the_repaired_engine_takes_none_of_them(tested):
    tie = VisitCapture.objects.get(capture=tested.judgement.run.capture)
    tie.purpose = VisitCapture.Purpose.VERIFICATION
    tie.save()
    assert beside_capture(tie.capture) == ()


def test_a_test_left_out_later_hides_no_result(tested, cast):
    left_out = NewFinding(3, "leak_down", "not_done", words="No time.")
    finding_add(order=tested, member=cast.mechanic, found=left_out)
    assert any("48 %" in line for line in told_customer(tested.visit))
