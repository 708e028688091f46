"""Rows that an address names, or the page that says there are none."""

from django.http import Http404

from shopdiag.people.access import MemberRequest
from traces.models import Capture, Run
from traces.selectors.captures import capture_get, run_get


def capture_or_404(request: MemberRequest, pk: int) -> Capture:
    """Return a capture that the member may see."""
    try:
        return capture_get(request.member, pk)
    except Capture.DoesNotExist:
        raise Http404 from None


def run_or_404(request: MemberRequest, pk: int, run_pk: int) -> Run:
    """Return a run of a capture that the member may see."""
    try:
        return run_get(request.member, pk, run_pk)
    except Run.DoesNotExist:
        raise Http404 from None
