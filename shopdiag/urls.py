"""Addresses of the whole service."""

from django.contrib import admin
from django.urls import include, path
from django.views.generic import RedirectView, TemplateView

from shopdiag import health

urlpatterns = [
    path("", RedirectView.as_view(pattern_name="jobs:board"), name="home"),
    path("", include("jobs.urls")),
    path("healthz", health.healthz, name="healthz"),
    path("kit/", TemplateView.as_view(template_name="kit.html"), name="kit"),
    path("people/", include("shopdiag.people.urls")),
    path("admin/", admin.site.urls),
]
