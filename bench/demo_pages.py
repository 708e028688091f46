"""Addresses of the pages that a demo shop is worked with."""

from django.urls import reverse

from jobs.models import Visit, VisitCapture, WorkOrder


def demo_pages() -> list[str]:
    """Return the lists, and the page of every job, capture and work order."""
    lists = ["jobs:board", "jobs:work-orders", "jobs:find", "jobs:week", "jobs:new"]
    lists += ["engines:list", "traces:known-good", "people:team"]
    numbers = [("jobs:visit", pk) for pk in Visit.objects.values_list("pk", flat=True)]
    numbers += [("jobs:decide", pk) for pk in _open_jobs()]
    captures = VisitCapture.objects.values_list("capture_id", flat=True)
    numbers += [("jobs:capture", pk) for pk in captures]
    orders = WorkOrder.objects.values_list("pk", flat=True)
    numbers += [("jobs:work-order", pk) for pk in orders]
    return [*map(reverse, lists), *(reverse(name, args=[pk]) for name, pk in numbers)]


def _open_jobs() -> list[int]:
    return list(Visit.objects.exclude(stage="closed").values_list("pk", flat=True))
