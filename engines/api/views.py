"""The engine library and the shop's own engines."""

from django.db.models import QuerySet
from rest_framework import generics, serializers

from engines.models import Engine
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action


class EngineSerializer(serializers.ModelSerializer[Engine]):
    """One engine; `tdc_angles` is null where the firings are evenly spaced."""

    class Meta:
        model = Engine
        fields = [
            "id",
            "name",
            "layout",
            "cylinders",
            "firing_order",
            "tdc_angles",
            "fuel",
            "source",
        ]
        read_only_fields = fields


class EnginesView(generics.ListAPIView[Engine]):
    """Engines that may be named in a visit or a set-up."""

    actions = {"GET": Action.SEE_WORK}
    serializer_class = EngineSerializer
    filterset_fields = ["layout", "cylinders", "firing_order", "fuel"]

    def get_queryset(self) -> QuerySet[Engine]:
        if getattr(self, "swagger_fake_view", False):
            return Engine.objects.none()
        return Engine.objects.seen_by(member_of(self.request)).in_use()
