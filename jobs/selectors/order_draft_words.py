"""What a drafted order says of how low, how even and how far."""

from django.utils.translation import gettext

from engines.models import Engine
from jobs.core.amounts import amount_written
from jobs.core.groups import EVEN_LEAVES_OPEN
from jobs.core.patterns import Pattern
from jobs.core.request import (
    RELATIVE_ONLY,
    RequestedFigure,
    SignedAs,
    how_low,
    named,
    pooled_words,
)
from jobs.models import (
    Complaint,
    RepairConsent,
    Visit,
    VisitCapture,
)
from jobs.selectors.captures import even_in_test
from jobs.selectors.consents import (
    up_to,
)
from jobs.selectors.patterns import PatternCard
from jobs.selectors.pooled_captures import CapturesTogether, captures_together
from traces.core.report import Report
from traces.models import Run


def patterns_told(cards: tuple[PatternCard, ...], report: Report | None) -> tuple[PatternCard, ...]:
    """Return the patterns without "no low cylinder" where no capture showed that."""
    is_judged = report is not None and report.verdict != "not judged"
    return tuple(c for c in cards if is_judged or c.pattern is not Pattern.NONE)


def how_low_words(report: Report | None, low: tuple[int, ...], signed_as: SignedAs) -> str:
    """Return how low the named cylinders stand, or how even all do."""
    if report is not None and report.verdict == "even" and not low:
        return f"{even_in_test(report)} {gettext(RELATIVE_ONLY)}"
    return how_low(figures_asked(report, low), report.cycles if report else 0, signed_as)


def disproof_words(cards: tuple[PatternCard, ...], low: tuple[int, ...]) -> str:
    """Return what would rule out a weaker bank, where no cylinder is named; empty elsewhere."""
    of_bank = (c for c in cards if c.pattern is Pattern.BANK_UNEVEN and not low)
    return next((str(c.meaning.disproof) for c in of_bank), "")


def how_even_words(run: Run | None) -> str:
    """Return how even the cylinders stand and what that leaves open."""
    if run is not None and run.verdict == "even":
        return f"{even_in_test(run.report)} {gettext(EVEN_LEAVES_OPEN)}"
    return gettext(
        "No compression fault found, by the diagnostician's word and not by an even capture."
    )


def found_bad_words(cylinders: tuple[int, ...]) -> str:
    """Return which cylinders the tests of the diagnosis found bad."""
    return gettext("The tests of the diagnosis found %(cylinders)s bad.") % {
        "cylinders": named(cylinders)
    }


def which_misfires(cylinders: tuple[int, ...]) -> str:
    """Return which cylinders the diagnostician named, or that none is named."""
    if not cylinders:
        return gettext("Not named; the tests have to name it.")
    return gettext("The diagnostician named %(cylinders)s; the cranking capture names none.") % {
        "cylinders": named(cylinders)
    }


def together_of(visit: Visit, run: Run | None) -> CapturesTogether | None:
    """Return what the job's captures say together, beside the run that was judged."""
    if run is None:
        return None
    purpose = VisitCapture.objects.get(visit=visit, capture_id=run.capture_id).purpose
    return captures_together(visit, purpose, signed=run)


def pooled_words_of(together: CapturesTogether | None, low: tuple[int, ...]) -> str:
    """Return what captures that agree say of the low cylinders."""
    if together is None:
        return ""
    known = together.pooled.by_cylinder
    places = [known[c] for c in low if c in known]
    if not known:
        places = [p for p in together.pooled.places if p.call == "suspect"]
    return pooled_words(
        [RequestedFigure(p.cylinder, p.relative, p.low, p.high) for p in places if not p.differs],
        together.count,
        together.pooled.cycles,
        together.words.disagreements,
        single=together.single,
    )


def figures_asked(report: Report | None, low: tuple[int, ...]) -> list[RequestedFigure]:
    """Return the figure of each cylinder the order names."""
    if report is None:
        return []
    if not report.cylinders_known:
        # The humps are measured all the same; only their numbers are open.
        return [
            RequestedFigure(None, e.relative, e.low, e.high)
            for e in report.estimates
            if e.call == "suspect"
        ]
    return [
        RequestedFigure(e.cylinder, e.relative, e.low, e.high)
        for e in sorted(report.estimates, key=lambda e: e.cylinder or 0)
        if e.cylinder in low
    ]


def firing_source_of(run: Run | None, engine: Engine | None) -> str:
    """Return where the firing order is known from."""
    if engine is None:
        return gettext("typed with the capture's set-up; confirm on the engine") if run else ""
    parts = [engine.source_words.rstrip(". ")]
    if engine.numbering:
        parts.append(
            gettext("numbering: %(numbering)s") % {"numbering": engine.numbering_words.rstrip(". ")}
        )
    if run is not None and str(run.setup.analysis.firing_order) != engine.firing_order:
        parts = [gettext("as typed with the capture's set-up; the engine's record differs by now")]
    return "; ".join(parts)[:300]


def repair_scope(agreed: RepairConsent) -> str:
    """Return what the customer agreed to once the diagnosis was done."""
    what = f": {agreed.scope.rstrip('.')}" if agreed.scope else ""
    limits = up_to(agreed)
    amount = gettext(" Up to %(amount)s.") % {"amount": limits} if limits else ""
    return gettext(
        "The repair the customer agreed to%(what)s.%(amount)s Nothing beyond it without consent."
    ) % {"what": what, "amount": amount}


def scope_of_work(complaint: Complaint | None, access_minutes: int | None) -> str:
    """Return what the mechanic may do for this order."""
    parts = [
        gettext("Diagnosis as listed; nothing is repaired or taken further apart without consent.")
    ]
    if complaint and complaint.authorised_amount:
        parts.append(
            gettext("Authorised: %(authorised_amount)s.")
            % {"authorised_amount": amount_written(complaint.authorised_amount)}
        )
    authorised = complaint.authorised_minutes if complaint else None
    if authorised is not None and access_minutes is not None and access_minutes > authorised:
        parts.append(
            gettext(
                "Reaching the plugs alone takes about %(access_minutes)s minutes: agree on "
                "more time first."
            )
            % {"access_minutes": access_minutes}
        )
    return " ".join(parts)
