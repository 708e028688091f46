"""Rows that an address names, or the page that says there are none."""

from django.shortcuts import get_object_or_404

from shopdiag.people.access import MemberRequest
from traces.models import Capture, Run


def capture_or_404(request: MemberRequest, pk: int) -> Capture:
    """Return a capture that the member may see."""
    return get_object_or_404(Capture.objects.seen_by(request.member).with_reading(), pk=pk)


def run_or_404(request: MemberRequest, pk: int, run_pk: int) -> Run:
    """Return a run of a capture that the member may see."""
    runs = Run.objects.seen_by(request.member).with_setup().select_related("reading")
    return get_object_or_404(runs, pk=run_pk, capture_id=pk)
