"""Addresses of practice."""

from django.urls import path

from traces.practice import views

app_name = "practice"

urlpatterns = [
    path("", views.home, name="home"),
    path("file/", views.practice_file, name="file"),
    path("team/", views.team, name="team"),
    path("team/<int:case_pk>/withdraw/", views.withdraw, name="withdraw"),
    path("cases/<int:case_pk>/begin/", views.begin, name="begin"),
    path("<int:pk>/", views.exercise, name="exercise"),
    path("<int:pk>/state/", views.state, name="state"),
]
