from typing import TYPE_CHECKING, TypeAlias

from django.contrib import admin

from engines.models import Engine

if TYPE_CHECKING:
    EngineModelAdmin: TypeAlias = admin.ModelAdmin[Engine]
else:
    EngineModelAdmin = admin.ModelAdmin


@admin.register(Engine)
class EngineAdmin(EngineModelAdmin):
    list_display = ("name", "layout", "firing_order", "shop", "retired")
    list_filter = ("retired", "cylinders", "shop")
    search_fields = ("name", "firing_order", "source")
    list_select_related = ("shop",)
    readonly_fields = ("key", "shop", "cylinders", "version", "created_at", "created_by")
