"""What a visit knows about misfires, and which of the sets that fit they point at."""

from collections.abc import Collection, Sequence

from django.utils.translation import gettext as _

from engines.core.positions import bank_numbers
from jobs.core.candidate_ranking import Misfires, Ranking, ranked
from jobs.core.codes_beside import codes_beside
from jobs.models import Judgement, MisfireCounts, TroubleCode, Visit
from jobs.selectors.captures import engine_of
from traces.models import Run


def counts_standing(visit: Visit) -> MisfireCounts | None:
    """Return the newest reading of misfire counts that no later one corrects."""
    standing = MisfireCounts.objects.filter(visit=visit, replaced_by=None)
    return standing.order_by("-pk").first()


def counts_on_card(visit: Visit) -> tuple[dict[str, int], ...]:
    """Return all counts of a visit that no later ones correct, oldest first."""
    standing = MisfireCounts.objects.filter(visit=visit, replaced_by=None).order_by("pk")
    return tuple(r.counts for r in standing if isinstance(r.counts, dict))


def misfires_of(visit: Visit, run: Run | None = None) -> Misfires:
    """Return the visit's newest counts and its codes, with the banks of a run's engine."""
    reading = counts_standing(visit)
    engine = engine_of(visit, run)
    counts = reading.counts if reading and isinstance(reading.counts, dict) else {}
    return Misfires(
        counts={int(cylinder): int(count) for cylinder, count in counts.items()},
        codes=list(TroubleCode.objects.filter(visit=visit).values_list("code", "status")),
        banks=bank_numbers(engine.banks if engine else None),
    )


def ranking_of(
    visit: Visit, candidates: Sequence[Collection[int]], run: Run | None = None
) -> Ranking | None:
    """Rank the sets of low cylinders that a capture leaves open; None where nothing is open."""
    if sum(bool(c) for c in candidates) < 2:
        return None
    return ranked(candidates, misfires_of(visit, run))


def beside_judgement(judgement: Judgement | None) -> tuple[str, ...]:
    """Return which codes and counts name another place than a signed verdict; none without one."""
    if judgement is None:
        return ()
    return codes_beside(judgement.cylinders, misfires_of(judgement.visit, judgement.run))


def beside_run(visit: Visit, run: Run, candidates: Sequence[Collection[int]]) -> tuple[str, ...]:
    """Return which codes and counts name another place than any set that a capture leaves open."""
    everything = {cylinder for one in candidates for cylinder in one}
    return codes_beside(sorted(everything), misfires_of(visit, run), what=_("the capture"))
