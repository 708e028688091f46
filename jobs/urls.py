"""Addresses of the visit's pages: the card itself, and the work that hangs on it."""

from django.urls import URLPattern

app_name = "jobs"

# Intake, the job card, triage, notes, photos, history.
_VISIT: list[URLPattern] = []

# Captures of a visit, judgements, work orders, findings, outcome.
_WORK: list[URLPattern] = []

urlpatterns = [*_VISIT, *_WORK]
