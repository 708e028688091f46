"""Drawings of a job's report: the capture that was signed, as evidence and as one mean cycle."""

from dataclasses import dataclass

from jobs.models import Judgement
from traces.core.drawings import CyclePicture, Picture
from traces.models import Run
from traces.selectors.cycle_figures import run_cycle_picture
from traces.selectors.figures import run_evidence


@dataclass(frozen=True, slots=True)
class Pictures:
    """Drawings of one run; None where its samples are gone or it names no humps."""

    evidence: Picture | None = None
    cycle: CyclePicture | None = None


def pictures_of(run: Run | None, signed: Judgement | None) -> Pictures:
    """Return the drawings of a run, with the signed cylinders marked."""
    if run is None:
        return Pictures()
    marked = None
    if signed is not None:
        marked = [] if signed.is_beyond_compression else signed.cylinders
    try:
        return Pictures(run_evidence(run, marked=marked), run_cycle_picture(run))
    except FileNotFoundError:
        return Pictures()
