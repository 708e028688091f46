from django.urls import path

from jobs.api import evidence, learning, outcome, thread, triage, visits, work

urlpatterns = [
    path("visits/", visits.VisitsView.as_view(), name="visits"),
    path("visits/<int:pk>/", visits.VisitView.as_view(), name="visit"),
    path("visits/<int:pk>/move/", visits.MoveView.as_view(), name="move"),
    path("visits/<int:pk>/notes/", visits.NotesView.as_view(), name="notes"),
    path("visits/<int:pk>/numbering/", visits.NumberingView.as_view(), name="numbering"),
    path("visits/<int:pk>/consents/", visits.ConsentsView.as_view(), name="consents"),
    path("visits/<int:pk>/timeline/", visits.TimelineView.as_view(), name="timeline"),
    path("visits/<int:pk>/triage/", triage.TriageView.as_view(), name="triage"),
    path("visits/<int:pk>/codes/", triage.CodesView.as_view(), name="codes"),
    path("visits/<int:pk>/codes/<int:code>/", triage.CodeView.as_view(), name="code"),
    path("visits/<int:pk>/freeze-frames/", triage.FreezeFramesView.as_view(), name="freeze-frames"),
    path("visits/<int:pk>/misfires/", triage.MisfiresView.as_view(), name="misfires"),
    path("visits/<int:pk>/used/", thread.UsedView.as_view(), name="used"),
    path("visits/<int:pk>/captures/", evidence.VisitCapturesView.as_view(), name="visit-captures"),
    path("visits/<int:pk>/together/", evidence.TogetherView.as_view(), name="together"),
    path(
        "visits/<int:pk>/runs/<int:run>/suggests/",
        evidence.SuggestsView.as_view(),
        name="run-suggests",
    ),
    path(
        "visits/<int:pk>/captures/<int:capture>/aside/",
        evidence.CaptureAsideView.as_view(),
        name="capture-aside",
    ),
    path(
        "visits/<int:pk>/captures/<int:capture>/purpose/",
        evidence.CapturePurposeView.as_view(),
        name="capture-purpose",
    ),
    path("visits/<int:pk>/judgements/", evidence.JudgementsView.as_view(), name="judgements"),
    path("visits/<int:pk>/work-orders/", work.VisitWorkOrdersView.as_view(), name="visit-orders"),
    path("visits/<int:pk>/outcome/", outcome.OutcomeView.as_view(), name="outcome"),
    path("learning/", learning.LearningView.as_view(), name="learning"),
    path("work-orders/", work.WorkOrdersView.as_view(), name="work-orders"),
    path("work-orders/<int:pk>/", work.WorkOrderView.as_view(), name="work-order"),
    path("work-orders/<int:pk>/accept/", work.WorkOrderAcceptView.as_view(), name="accept"),
    path("work-orders/<int:pk>/questions/", thread.QuestionsView.as_view(), name="questions"),
    path("questions/<int:pk>/answer/", thread.AnswerView.as_view(), name="answer"),
    path("work-orders/<int:pk>/findings/", work.FindingsView.as_view(), name="findings"),
    path("work-orders/<int:pk>/swaps/", work.SwapsView.as_view(), name="swaps"),
    path("work-orders/<int:pk>/complete/", work.WorkOrderCompleteView.as_view(), name="complete"),
    path("work-orders/<int:pk>/withdraw/", work.WorkOrderWithdrawView.as_view(), name="withdraw"),
]
