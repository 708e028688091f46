"""The API's addresses; its description is at /api/schema, readable pages at /api/docs/."""

from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView

app_name = "api"
urlpatterns = [
    path("", include("engines.api.urls")),
    path("", include("traces.api.urls")),
    path("", include("jobs.api.urls")),
    path(
        "schema",
        SpectacularAPIView.as_view(authentication_classes=[], permission_classes=[]),
        name="schema",
    ),
    path(
        "docs/",
        SpectacularSwaggerSplitView.as_view(
            url_name="api:schema", authentication_classes=[], permission_classes=[]
        ),
        name="docs",
    ),
]
