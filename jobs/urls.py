"""Addresses of the visit's pages: the card itself, and the work that hangs on it."""

from django.urls import URLPattern, path

from jobs.views import board, history, intake, notes, triage, visit

app_name = "jobs"

# Intake, the job card, triage, notes, photos, history.
_VISIT: list[URLPattern] = [
    path("jobs/", board.board, name="board"),
    path("jobs/new/", intake.new, name="new"),
    path("jobs/new/search/", intake.search, name="intake-search"),
    path("jobs/new/who/", intake.who, name="intake-who"),
    path("jobs/new/vin/", intake.vin, name="vin-check"),
    path("jobs/find/", history.find, name="find"),
    path("jobs/<int:visit_id>/", visit.visit, name="visit"),
    path("jobs/<int:visit_id>/move/", visit.move, name="move"),
    path("jobs/<int:visit_id>/edit/", visit.visit_edit, name="visit-edit"),
    path("jobs/<int:visit_id>/complaint/", visit.complaint_edit, name="complaint-edit"),
    path("jobs/<int:visit_id>/customer/", visit.customer_edit, name="customer-edit"),
    path("jobs/<int:visit_id>/vehicle/", visit.vehicle_edit, name="vehicle-edit"),
    path("jobs/<int:visit_id>/triage/", triage.triage_edit, name="triage-edit"),
    path("jobs/<int:visit_id>/codes/", triage.codes_new, name="codes-add"),
    path("jobs/<int:visit_id>/codes/<int:paste_id>/", triage.codes_paste, name="codes-read"),
    path("jobs/<int:visit_id>/code/<int:code_id>/off/", triage.code_off, name="code-remove"),
    path("jobs/<int:visit_id>/freeze-frame/", triage.freeze_frame_new, name="freeze-frame-add"),
    path("jobs/<int:visit_id>/misfires/", triage.misfires, name="misfires-set"),
    path("jobs/<int:visit_id>/note/", notes.note_new, name="note-add"),
    path("jobs/<int:visit_id>/photo/", notes.photo_new, name="photo-add"),
    path("photos/<int:photo_id>/", notes.photo, name="photo"),
    path("vehicles/<int:vehicle_id>/", history.vehicle, name="vehicle"),
]

# Captures of a visit, judgements, work orders, findings, outcome.
_WORK: list[URLPattern] = []

urlpatterns = [*_VISIT, *_WORK]
