"""Analysing a capture under one set-up."""

import json
from typing import Any
from uuid import UUID

from django.conf import settings

from shopdiag.people.core.words import Text
from traces.core.analysis import judge, with_measured_event
from traces.core.readers import ReadError
from traces.models import Run
from traces.runs.carrying import carry_out
from traces.selectors.samples import SAMPLES_GONE, waveform_of


def run_analyse(run_id: int) -> bool:
    """Do one run, if that waits to be done; return whether it was done here."""
    return carry_out(Run, run_id, _analyse) is not None


def _analyse(run: Run, _token: UUID) -> dict[str, Any]:
    setup = run.setup.analysis
    try:
        waveform = waveform_of(run.reading, setup)
    except FileNotFoundError:
        raise ReadError(Text(SAMPLES_GONE)) from None
    report = with_measured_event(judge(waveform, setup), waveform, setup)
    result = report.to_json()
    # A value that JSON cannot hold is a bug here, not an answer of the database's.
    json.dumps(result, allow_nan=False)
    return {
        "verdict": report.verdict,
        "result": result,
        "sha256": run.capture.sha256,
        "code_version": settings.VERSION,
    }
