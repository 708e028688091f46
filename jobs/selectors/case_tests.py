"""Tests of a job as a case takes them along: codes and figures, nobody's words."""

from django.utils.translation import gettext

from jobs.core.measured_tests import TESTS, Kind, TypedTest, Value
from jobs.models import CylinderFinding, SwapTest, VisitCapture, WorkOrder
from jobs.selectors.diagnosis_records import orders_of_diagnosis
from jobs.selectors.findings import finding_words
from traces.core.case import MOST_TESTS, OUTCOMES, CaseTest
from traces.models import Capture

_COLUMNS = (
    *("pressure_kpa", "first_puff_kpa", "leak_percent", "supply_kpa", "orifice_mm"),
    *("oil_ml", "swept_ml", "idle_kpa", "snap_kpa"),
)
_SWAP = "swap"
_FOLLOWED = {"yes": "bad", "no": "good", "changed": "ambiguous"}


def tests_beside_capture(capture: Capture) -> tuple[CaseTest, ...]:
    """Return the tests of the diagnosis that a capture belongs to, as they stand.

    A capture made after the repair shows another engine than those tests did. Those of a withdrawn
    order are left out, and the oldest where there are more than a case takes.
    """
    tie = VisitCapture.objects.filter(capture=capture).select_related("visit").first()
    if tie is None or tie.purpose != VisitCapture.Purpose.DIAGNOSIS:
        return ()
    orders = [o for o in orders_of_diagnosis(tie.visit) if o.state != WorkOrder.State.WITHDRAWN]
    findings = CylinderFinding.objects.filter(work_order__in=orders, replaced_by=None)
    known = findings.filter(outcome__in=OUTCOMES).exclude(test=CylinderFinding.Test.OTHER)
    swaps = SwapTest.objects.filter(work_order__in=orders).order_by("pk")
    told = (
        *(
            CaseTest(f.test, f.outcome, f.cylinder, f.bank, _figures(f))
            for f in known.order_by("pk")
        ),
        *(
            CaseTest(
                _SWAP,
                _FOLLOWED[s.followed],
                s.from_cylinder,
                figures={"part": s.part, "to_cylinder": float(s.to_cylinder)},
            )
            for s in swaps
            if s.followed in _FOLLOWED
        ),
    )
    return told[-MOST_TESTS:]


def case_test_words(test: CaseTest, unit: str) -> str:
    """Return a test of a case in one line; what this version does not know is said to be so."""
    if test.test == _SWAP:
        return _swap_words(test)
    if test.test not in CylinderFinding.Test.values:
        return gettext("A test that this version does not know.")
    columns = {n: v for n, v in test.figures.items() if n in _COLUMNS and isinstance(v, float)}
    heard_at = test.figures.get("heard_at")
    finding = CylinderFinding(
        test=test.test,
        outcome=test.outcome,
        cylinder=test.cylinder,
        bank=test.bank,
        figures=_typed(TESTS.get(test.test), test.figures),
        heard_at=heard_at if heard_at in CylinderFinding.HeardAt.values else "",
        **columns,
    )
    return finding_words(finding, unit)


def _figures(finding: CylinderFinding) -> dict[str, Value]:
    columns = {name: getattr(finding, name) for name in _COLUMNS}
    found: dict[str, Value] = {n: float(v) for n, v in columns.items() if v is not None}
    if finding.heard_at:
        found["heard_at"] = finding.heard_at
    typed = _typed(TESTS.get(finding.test), finding.figures or {})
    return found | {n: v if isinstance(v, str) else float(v) for n, v in typed.items()}


def _typed(entry: TypedTest | None, given: "dict[str, Value] | object") -> dict[str, Value]:
    """Return those of the figures that the test has, each of its kind."""
    if entry is None or not isinstance(given, dict):
        return {}
    found: dict[str, Value] = {}
    for figure in entry.typed:
        value = given.get(figure.name)
        if figure.kind is Kind.CHOICE:
            if any(choice.key == value for choice in figure.choices):
                found[figure.name] = str(value)
        elif isinstance(value, int | float) and not isinstance(value, bool):
            found[figure.name] = value
    return found


def _swap_words(test: CaseTest) -> str:
    parts = dict(SwapTest.Part.choices)
    followed = {code: outcome for outcome, code in _FOLLOWED.items()}[test.outcome]
    to = test.figures.get("to_cylinder")
    if test.figures.get("part") not in parts or test.cylinder is None or not isinstance(to, float):
        return gettext("A test that this version does not know.")
    swap = SwapTest(
        part=str(test.figures["part"]),
        from_cylinder=test.cylinder,
        to_cylinder=int(to),
        followed=followed,
    )
    return swap.line
