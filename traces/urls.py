"""Addresses of captures."""

from django.urls import path

from traces.views import figures, notes, pages, partials

app_name = "traces"

urlpatterns = [
    path("parts/", partials.begin, name="parts"),
    path("parts/<uuid:token>/", partials.part, name="part"),
    path("<int:pk>/", pages.capture, name="capture"),
    path("<int:pk>/state/", pages.state, name="state"),
    path("<int:pk>/set-up/", pages.setup, name="setup"),
    path("<int:pk>/retry/", pages.retry, name="retry"),
    path("<int:pk>/notes/", notes.pin, name="note-pin"),
    path("<int:pk>/notes/<int:note_pk>/strike/", notes.strike, name="note-strike"),
    path("<int:pk>/original/", figures.original, name="original"),
    path("<int:pk>/runs/<int:run_pk>/", pages.run, name="run"),
    path("<int:pk>/runs/<int:run_pk>/plot.json", figures.plot, name="plot"),
    path("<int:pk>/runs/<int:run_pk>/evidence.svg", figures.evidence, name="evidence"),
]
