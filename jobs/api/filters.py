"""Narrowing the list of visits."""

from typing import cast

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from rest_framework.request import Request

from jobs.core.search import plate_key, query_read
from jobs.models import Visit
from jobs.models.intake import STAGE_CHOICES
from jobs.selectors.found_jobs import visits_found
from shopdiag.people.authentication import member_of


class VisitFilter(filters.FilterSet):
    """By stage, job number, plate (however it is spaced), VIN, or anything remembered."""

    stage = filters.ChoiceFilter(choices=STAGE_CHOICES)
    number = filters.NumberFilter()
    plate = filters.CharFilter(method="by_plate")
    vin = filters.CharFilter(field_name="vehicle__vin", lookup_expr="iexact")
    q = filters.CharFilter(
        method="by_query",
        label="Job number, plate, VIN, name, phone number, code or words, as far as the role "
        "sees them.",
    )

    class Meta:
        model = Visit
        fields = ["stage", "number", "plate", "vin", "q"]

    def by_plate(self, queryset: QuerySet[Visit], _name: str, value: str) -> QuerySet[Visit]:
        """Keep the visits of one plate."""
        return queryset.filter(vehicle__plate_key=plate_key(value))

    def by_query(self, queryset: QuerySet[Visit], _name: str, value: str) -> QuerySet[Visit]:
        """Keep the visits that the search page finds."""
        found = visits_found(member_of(cast("Request", self.request)), query_read(value))
        return queryset.filter(pk__in=found.order_by().values("pk"))
