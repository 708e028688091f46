from typing import TYPE_CHECKING, Any, TypeAlias

from django.contrib import admin
from django.http import HttpRequest

from traces.models import Capture, Reading, Run, WorkerBeat

if TYPE_CHECKING:
    ModelAdmin: TypeAlias = admin.ModelAdmin[Any]
else:
    ModelAdmin = admin.ModelAdmin


class _LookOnly(ModelAdmin):
    """Evidence and the worker's rows are looked at here, never changed."""

    def has_add_permission(self, request: HttpRequest) -> bool:  # noqa: ARG002 - Django's signature
        return False

    def has_change_permission(self, request: HttpRequest, obj: object | None = None) -> bool:  # noqa: ARG002 - Django's signature
        return False

    def has_delete_permission(self, request: HttpRequest, obj: object | None = None) -> bool:  # noqa: ARG002 - Django's signature
        return False


@admin.register(Capture)
class CaptureAdmin(_LookOnly):
    list_display = ("original_name", "shop", "size_bytes", "uploaded_at", "uploaded_by")
    list_filter = ("shop",)
    list_select_related = ("shop", "uploaded_by__user")
    search_fields = ("original_name", "label", "sha256")
    # The file is handed out by the capture's page, which asks who wants it.
    exclude = ("original",)


@admin.register(Reading)
class ReadingAdmin(_LookOnly):
    list_display = ("capture", "state", "attempts", "queued_at", "sent_at", "heartbeat_at", "error")
    list_filter = ("state",)
    list_select_related = ("capture",)


@admin.register(Run)
class RunAdmin(_LookOnly):
    list_display = ("capture", "state", "verdict", "attempts", "queued_at", "finished_at", "error")
    list_filter = ("state", "verdict")
    list_select_related = ("capture",)


@admin.register(WorkerBeat)
class WorkerBeatAdmin(_LookOnly):
    list_display = ("name", "seen_at")
