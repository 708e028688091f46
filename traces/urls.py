"""Addresses of captures."""

from django.urls import path

from traces.views import (
    cases,
    clamps,
    compare,
    event_angles,
    exports,
    figures,
    files,
    hand,
    notes,
    pages,
)

app_name = "traces"

urlpatterns = [
    path("known-good/", compare.known_good, name="known-good"),
    path("known-good/<int:entry_pk>/retire/", compare.retire, name="known-good-retire"),
    path("clamps/", clamps.clamps, name="clamps"),
    path("clamps/<int:clamp_pk>/retire/", clamps.retire, name="clamp-retire"),
    path("event-angles/", event_angles.kept, name="event-angles"),
    path("event-angles/<int:entry_pk>/retire/", event_angles.retire, name="event-angle-retire"),
    path("<int:pk>/", pages.capture, name="capture"),
    path("<int:pk>/state/", pages.state, name="state"),
    path("<int:pk>/set-up/", pages.setup, name="setup"),
    path("<int:pk>/retry/", pages.retry, name="retry"),
    path("<int:pk>/notes/", notes.pin, name="note-pin"),
    path("<int:pk>/notes/<int:note_pk>/strike/", notes.strike, name="note-strike"),
    path("<int:pk>/as-sender/", cases.as_sender, name="as-sender"),
    path("<int:pk>/file/", files.correct, name="file"),
    path("<int:pk>/file/as-it-is/", files.as_it_is, name="file-as-it-is"),
    path("<int:pk>/file/take-again/", files.take_again, name="file-take-again"),
    path("<int:pk>/file/forget/", files.forget, name="file-forget"),
    path("<int:pk>/original/", figures.original, name="original"),
    path("<int:pk>/curve.json", figures.curve, name="curve"),
    path("<int:pk>/values.json", figures.values_at, name="values"),
    path("<int:pk>/runs/<int:run_pk>/", pages.run, name="run"),
    path("<int:pk>/runs/<int:run_pk>/compare/", compare.compare, name="compare"),
    path("<int:pk>/runs/<int:run_pk>/compare.json", compare.plot, name="compare-plot"),
    path("<int:pk>/runs/<int:run_pk>/angle/", event_angles.learn, name="event-angle-learn"),
    path("<int:pk>/runs/<int:run_pk>/keep/", compare.keep, name="keep"),
    path("<int:pk>/runs/<int:run_pk>/by-hand/", hand.adjust, name="by-hand"),
    path("<int:pk>/runs/<int:run_pk>/plot.json", figures.plot, name="plot"),
    path("<int:pk>/runs/<int:run_pk>/values.json", figures.run_values_at, name="run-values"),
    path("<int:pk>/runs/<int:run_pk>/evidence.svg", figures.evidence, name="evidence"),
    path("<int:pk>/runs/<int:run_pk>/data.csv", exports.data, name="data"),
    path("<int:pk>/runs/<int:run_pk>/result.json", exports.result, name="result"),
    path("<int:pk>/runs/<int:run_pk>/case.zip", exports.case, name="case"),
]
