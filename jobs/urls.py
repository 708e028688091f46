"""Addresses of the visit's pages: the card itself, and the work that hangs on it."""

from django.urls import URLPattern, path

from jobs.views import (
    board,
    consent,
    deciding,
    evidence,
    figure_limits,
    findings,
    history,
    intake,
    learning,
    notes,
    numbering,
    order_list,
    order_paper,
    outcome,
    plan,
    questions,
    report,
    same_setup,
    swaps,
    triage,
    used,
    visit,
    week,
    work,
)

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
    path("jobs/<int:visit_id>/report/", report.job_report, name="job-report"),
    path("jobs/<int:visit_id>/report/pdf/", report.job_report_pdf, name="job-report-pdf"),
    path("jobs/<int:visit_id>/plan/", plan.plan, name="plan"),
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
    path("jobs/<int:visit_id>/used/", used.used_new, name="used-add"),
    path("jobs/<int:visit_id>/numbering/", numbering.confirm, name="numbering"),
    path("jobs/<int:visit_id>/photo/", notes.photo_new, name="photo-add"),
    path("photos/<int:photo_id>/", notes.photo, name="photo"),
    path("photos/<int:photo_id>/remove/", notes.photo_take_off, name="photo-remove"),
    path("week/", week.week, name="week"),
    path("week/weeks.csv", week.weeks_csv, name="weeks-csv"),
    path("week/waiting.csv", week.waiting_csv, name="waiting-csv"),
    path("learning/", learning.learning, name="learning"),
    path("learning/calls.csv", learning.calls_csv, name="learning-calls-csv"),
    path("learning/causes.csv", learning.causes_csv, name="learning-causes-csv"),
    path("vehicles/<int:vehicle_id>/", history.vehicle, name="vehicle"),
]

# Captures of a visit, judgements, work orders, findings, outcome.
_WORK: list[URLPattern] = [
    path("jobs/<int:visit_id>/captures/", evidence.capture_upload, name="capture-upload"),
    path("jobs/captures/<int:capture_id>/", evidence.capture, name="capture"),
    path("jobs/captures/<int:capture_id>/same/", same_setup.same_setup, name="capture-same"),
    path(
        "jobs/captures/<int:capture_id>/same-all/",
        same_setup.same_setup_all,
        name="capture-same-all",
    ),
    path("jobs/captures/<int:capture_id>/aside/", evidence.aside, name="capture-aside"),
    path("jobs/captures/<int:capture_id>/purpose/", evidence.purpose, name="capture-purpose"),
    path("jobs/<int:visit_id>/decide/", deciding.decide, name="decide"),
    path("jobs/<int:visit_id>/consent/", consent.consent_new, name="consent-add"),
    path("jobs/<int:visit_id>/work-order/", work.work_order_new, name="work-order-new"),
    path("work-orders/", order_list.work_orders, name="work-orders"),
    path("work-orders/<int:order_id>/", work.work_order, name="work-order"),
    path("work-orders/<int:order_id>/accept/", work.accept, name="work-order-accept"),
    path("work-orders/<int:order_id>/edit/", work.work_order_edit, name="work-order-edit"),
    path("work-orders/<int:order_id>/withdraw/", work.withdraw, name="work-order-withdraw"),
    path(
        "work-orders/<int:order_id>/print/", order_paper.work_order_print, name="work-order-print"
    ),
    path("work-orders/<int:order_id>/pdf/", order_paper.work_order_pdf, name="work-order-pdf"),
    path("work-orders/<int:order_id>/finding/", findings.finding_new, name="finding-add"),
    path("work-orders/<int:order_id>/readings/", findings.readings, name="readings-add"),
    path("work-orders/<int:order_id>/swap/", swaps.swap_new, name="swap-add"),
    path("work-orders/<int:order_id>/limits/", findings.limits, name="work-order-limits"),
    path(
        "work-orders/<int:order_id>/figure-limits/",
        figure_limits.figure_limits,
        name="figure-limits",
    ),
    path(
        "engines/<int:engine_id>/figure-limits/",
        figure_limits.engine_limits,
        name="engine-limits",
    ),
    path("shop/figure-limits/", figure_limits.shop_limits, name="shop-limits"),
    path("work-orders/<int:order_id>/complete/", findings.complete, name="work-order-complete"),
    path("work-orders/<int:order_id>/ask/", questions.ask, name="question-ask"),
    path("work-orders/<int:order_id>/answer/", questions.answer, name="question-answer"),
    path(
        "work-orders/<int:order_id>/mail-again/", questions.mail_again, name="question-mail-again"
    ),
    path("work-orders/<int:order_id>/photo/", findings.order_photo, name="work-order-photo"),
    path("jobs/<int:visit_id>/outcome/", outcome.outcome_edit, name="outcome-edit"),
    path("jobs/<int:visit_id>/before-after/", outcome.comparison, name="before-after"),
    path("jobs/<int:visit_id>/customer-copy/", outcome.customer_copy, name="customer-copy"),
    path(
        "jobs/<int:visit_id>/customer-copy/pdf/",
        outcome.customer_copy_pdf,
        name="customer-copy-pdf",
    ),
]

urlpatterns = [*_VISIT, *_WORK]
