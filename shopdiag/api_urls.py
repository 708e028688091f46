"""The API's addresses; its description is at /api/schema, readable pages at /api/docs/."""

from typing import Any

from django.urls import include, path, re_path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView

from shopdiag.people.api.views import DescriptionThrottle, NowhereView

# Nobody has to sign in to read how the interface works; it holds no data.
_OPEN: dict[str, Any] = {
    "authentication_classes": [],
    "permission_classes": [],
    "throttle_classes": [DescriptionThrottle],
}

app_name = "api"
urlpatterns = [
    path("", include("engines.api.urls")),
    path("", include("traces.api.urls")),
    path("", include("jobs.api.urls")),
    path("schema", SpectacularAPIView.as_view(**_OPEN), name="schema"),
    path(
        "docs/",
        SpectacularSwaggerSplitView.as_view(
            url_name="api:schema", template_name="api/docs.html", **_OPEN
        ),
        name="docs",
    ),
    re_path("", NowhereView.as_view(), name="nowhere"),
]
