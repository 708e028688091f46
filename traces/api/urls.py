from django.urls import path

from traces.api import views

urlpatterns = [
    path("captures/<int:pk>/", views.CaptureView.as_view(), name="capture"),
    path("captures/<int:pk>/read-again/", views.ReadAgainView.as_view(), name="read-again"),
    path("captures/<int:pk>/runs/", views.CaptureRunsView.as_view(), name="capture-runs"),
    path("runs/<int:pk>/", views.RunView.as_view(), name="run"),
]
