"""Narrowing the list of visits."""

from django.db.models import QuerySet
from django_filters import rest_framework as filters

from jobs.core.search import plate_key
from jobs.models import Visit
from jobs.models.intake import STAGE_CHOICES


class VisitFilter(filters.FilterSet):
    """By stage, job number, plate (however it is spaced) or VIN."""

    stage = filters.ChoiceFilter(choices=STAGE_CHOICES)
    number = filters.NumberFilter()
    plate = filters.CharFilter(method="by_plate")
    vin = filters.CharFilter(field_name="vehicle__vin", lookup_expr="iexact")

    class Meta:
        model = Visit
        fields = ["stage", "number", "plate", "vin"]

    def by_plate(self, queryset: QuerySet[Visit], _name: str, value: str) -> QuerySet[Visit]:
        """Keep the visits of one plate."""
        return queryset.filter(vehicle__plate_key=plate_key(value))
