from django.urls import path

from engines.api import views

urlpatterns = [
    path("engines/", views.EnginesView.as_view(), name="engines"),
    path("engines/<int:pk>/access/", views.AccessView.as_view(), name="engine-access"),
]
