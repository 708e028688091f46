"""Addresses of the whole service."""

from django.contrib import admin
from django.urls import include, path
from django.views.generic import RedirectView

from shopdiag import health, kit, offline, texts

urlpatterns = [
    path("", RedirectView.as_view(pattern_name="jobs:board"), name="home"),
    path("", include("jobs.urls")),
    path("healthz", health.healthz, name="healthz"),
    path("offline/", offline.offline, name="offline"),
    # A worker may answer for what lies beneath its own address, so it stands at the root.
    path("service-worker.js", offline.service_worker, name="service-worker"),
    path("texts.js", texts.scripts_texts, name="texts"),
    path("kit/", kit.kit, name="kit"),
    path("kit/curve.json", kit.sample_curve, name="kit-curve"),
    path("engines/", include("engines.urls")),
    path("captures/", include("traces.urls")),
    path("practice/", include("traces.practice.urls")),
    path("people/", include("shopdiag.people.urls")),
    path("api/", include("shopdiag.api_urls")),
    path("admin/", admin.site.urls),
]
