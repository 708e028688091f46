"""Addresses of the visit's pages; each family of pages keeps its own list."""

app_name = "jobs"
urlpatterns: list[object] = []
