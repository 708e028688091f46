from typing import TYPE_CHECKING, Any, TypeAlias

from django.contrib import admin
from django.db import models
from django.http import HttpRequest

from jobs.models import (
    Complaint,
    Customer,
    Judgement,
    Note,
    TimelineEvent,
    Vehicle,
    Visit,
    WorkOrder,
)

if TYPE_CHECKING:
    ModelAdmin: TypeAlias = admin.ModelAdmin[Any]
else:
    ModelAdmin = admin.ModelAdmin


class LookOnlyAdmin(ModelAdmin):
    """Shows rows; changes go through the pages, which write the timeline."""

    list_select_related = True

    def has_add_permission(self, request: HttpRequest) -> bool:  # noqa: ARG002
        return False

    def has_change_permission(
        self,
        request: HttpRequest,  # noqa: ARG002
        obj: models.Model | None = None,  # noqa: ARG002
    ) -> bool:
        return False

    def has_delete_permission(
        self,
        request: HttpRequest,  # noqa: ARG002
        obj: models.Model | None = None,  # noqa: ARG002
    ) -> bool:
        return False


@admin.register(Customer)
class CustomerAdmin(LookOnlyAdmin):
    list_display = ["name", "phone", "shop"]
    list_filter = ["shop"]
    search_fields = ["name", "phone_key"]


@admin.register(Vehicle)
class VehicleAdmin(LookOnlyAdmin):
    list_display = ["plate", "make", "model", "year", "vin", "shop"]
    list_filter = ["shop"]
    search_fields = ["plate_key", "vin"]


@admin.register(Visit)
class VisitAdmin(LookOnlyAdmin):
    list_display = ["number", "vehicle", "stage", "opened_at", "shop"]
    list_filter = ["shop", "stage"]
    search_fields = ["number", "vehicle__plate_key"]


@admin.register(Complaint)
class ComplaintAdmin(LookOnlyAdmin):
    list_display = ["visit", "words"]


@admin.register(Judgement)
class JudgementAdmin(LookOnlyAdmin):
    list_display = ["visit", "kind", "mechanical", "cylinders", "at", "by"]
    list_filter = ["kind", "mechanical"]


@admin.register(WorkOrder)
class WorkOrderAdmin(LookOnlyAdmin):
    list_display = ["visit", "state", "request", "created_at", "shop"]
    list_filter = ["shop", "state"]


@admin.register(Note)
class NoteAdmin(LookOnlyAdmin):
    list_display = ["visit", "at", "by", "text"]


@admin.register(TimelineEvent)
class TimelineEventAdmin(LookOnlyAdmin):
    list_display = ["visit", "at", "by", "kind", "words"]
    list_filter = ["shop", "kind"]
