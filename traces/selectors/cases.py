"""A case that a colleague sent: who has such an engine, and what the sender found."""

from dataclasses import asdict, dataclass
from typing import Any

from django.utils.translation import gettext_lazy as _

from engines.models import Engine
from shopdiag.people.models import Member
from traces.core.case import Case
from traces.core.findings import Finding, place_letter
from traces.core.report import Estimate, Report, finding_aid, setup_words, told_calls, verdict_words
from traces.models import Capture, CaptureSetup, Reading
from traces.selectors.case_tests import tests_in_words

SENT_SETUP = _(
    "Filled in from the set-up of the colleague who sent this case; it belongs to this very "
    "capture. The limits are your shop's own."
)
_SAME_DEG = 1.0


@dataclass(frozen=True, slots=True)
class SentFigure:
    """One cylinder, or place, as the sender has it and as it came out here."""

    name: str
    relative: float
    low: float
    high: float
    call: str
    here: float | None = None


@dataclass(frozen=True, slots=True)
class SentCase:
    """The sender's result as a page shows it.

    Parameters
    ----------
    case
        With the sender's set-up.
    engine
        The one of the member's list that fits; None where none does.
    report
        The sender's figures; without humps and sentences.
    own
        This installation's report of the same capture, once there is one.
    unit
        Of pressures, as the shop has it.
    """

    case: Case
    engine: Engine | None
    report: Report
    own: Report | None = None
    unit: str = "kPa"

    @property
    def tests(self) -> tuple[str, ...]:
        """What the sender's tests on the engine found, a line each."""
        return tests_in_words(self.case.tests, self.unit)

    @property
    def headline(self) -> str:
        """The sender's verdict as one line."""
        return verdict_words(self.report)

    @property
    def setup_line(self) -> str:
        """The sender's set-up as one line."""
        return setup_words(self.case.setup)

    @property
    def is_of_other_fuel(self) -> bool:
        """Whether the engine that fits stands in the list with another fuel."""
        return self.engine is not None and self.engine.fuel != self.case.setup.fuel

    @property
    def noticed(self) -> tuple[str, ...]:
        """What the sender's analysis noticed, in this installation's words; else by its code."""
        signal = self.case.setup.signal
        listed = self.case.result["findings"]
        sent = (Finding(f["code"], f["severity"]) for f in listed)
        found = (f for f in sent if f.code != "relative-only")
        words = ((finding_aid(f, signal) or (f"{f.code.replace('-', ' ')}.",))[0] for f in found)
        return tuple(dict.fromkeys(words))

    @property
    def figures(self) -> tuple[SentFigure, ...]:
        """The figures by number, with one's own beside them where both are alike."""
        own = self._own()
        figures = (
            SentFigure(
                name=(name := self._name(e)),
                relative=e.relative,
                low=e.low,
                high=e.high,
                call=told,
                here=own.get(name),
            )
            for e, told in zip(
                self.report.estimates, told_calls(self.report.estimates), strict=True
            )
        )
        return tuple(sorted(figures, key=lambda figure: (len(figure.name), figure.name)))

    @property
    def is_compared(self) -> bool:
        """Whether one's own figures stand beside the sender's."""
        return any(f.here is not None for f in self.figures)

    def _own(self) -> dict[str, float]:
        if self.own is None or self.own.cylinders_known != self.report.cylinders_known:
            return {}
        return {self._name(e): e.relative for e in self.own.estimates}

    def _name(self, estimate: Estimate) -> str:
        known = self.report.cylinders_known
        return estimate.name if known else place_letter(estimate.position)


def case_of(reading: Reading) -> Case | None:
    """Return the case that a capture was read from; None where it is a plain recording."""
    said: dict[str, Any] | None = reading.understood.get("case")
    return Case.from_json(said) if said else None


def sent_case(member: Member, reading: Reading, own: Report | None = None) -> SentCase | None:
    """Return what a capture's page shows of the sender; None for a plain recording."""
    case = case_of(reading)
    if case is None:
        return None
    unit = member.shop.pressure_unit
    return SentCase(case, engine_of(member, case), _report(case), own, unit)


def engine_of(member: Member, case: Case) -> Engine | None:
    """Return an engine of the member's list that is laid out and fires as the case's.

    One of the same fuel is best. Any other will do, because the fuel of the set-up counts.
    """
    order = case.setup.firing_order
    seen = Engine.objects.seen_by(member).in_use().filter(firing_order=str(order))
    if case.layout:
        seen = seen.filter(layout=case.layout)
    fitting = [
        engine
        for engine in seen.order_by("pk")
        if all(
            abs(a - b) < _SAME_DEG
            for a, b in zip(engine.order.tdc_angles_deg, order.tdc_angles_deg, strict=True)
        )
    ]
    return min(fitting, key=lambda engine: engine.fuel != case.setup.fuel, default=None)


def sent_setup(case: Case, capture: Capture, engine: Engine | None) -> CaptureSetup:
    """Return the sender's set-up as one of the capture's own, not stored."""
    return CaptureSetup(
        capture=capture,
        engine=engine,
        settings=case.setup.to_json(),
        **asdict(case.conditions),
    )


def _report(case: Case) -> Report:
    result = case.result
    known = result["cylinders"] is not None
    rows = result["cylinders"] if known else result["positions"]
    if known:
        # told by number; what is high hangs on which cylinder fires before it
        sequence = case.setup.firing_order.sequence
        rows = sorted(rows, key=lambda row: sequence.index(row["cylinder"]))
    return Report(
        verdict=result["verdict"],
        estimates=tuple(
            Estimate(
                position=place,
                cylinder=row["cylinder"] if known else None,
                relative=row["relative"],
                low=row["low"],
                high=row["high"],
                call=row["call"],
            )
            for place, row in enumerate(rows, start=1)
        ),
        candidates=tuple(tuple(c) for c in result["candidates"]),
        cylinders_known=known,
        cranking_rpm=result["cranking_rpm"],
        cycles=result["cycles"],
        method=case.setup.kind.method,
    )
