"""Answers of the API that belong to no part of it."""

from typing import Any, NoReturn

from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.throttling import AnonRateThrottle
from rest_framework.views import APIView


class DescriptionThrottle(AnonRateThrottle):
    """The description is drawn anew each time and open to strangers."""

    rate = "60/min"


@extend_schema(exclude=True)
class NowhereView(APIView):
    """Whatever has no address answers like the rest of the API."""

    authentication_classes = []
    permission_classes = []
    throttle_classes = []

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> NoReturn:  # noqa: ANN401, ARG002
        raise NotFound(
            _("There is no such address; addresses are listed at /api/docs/ and end in a slash.")
        )
