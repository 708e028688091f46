from django.urls import path

from traces.api import uploads, views

urlpatterns = [
    path("uploads/", uploads.UploadsView.as_view(), name="uploads"),
    path("uploads/<uuid:token>/", uploads.UploadView.as_view(), name="upload"),
    path("captures/<int:pk>/", views.CaptureView.as_view(), name="capture"),
    path("captures/<int:pk>/read-again/", views.ReadAgainView.as_view(), name="read-again"),
    path("captures/<int:pk>/correction/", views.CorrectionView.as_view(), name="correction"),
    path("captures/<int:pk>/runs/", views.CaptureRunsView.as_view(), name="capture-runs"),
    path("runs/<int:pk>/", views.RunView.as_view(), name="run"),
]
