"""Naming an engine in a request."""

from typing import Any

from rest_framework import serializers

from engines.models import Engine
from shopdiag.people.authentication import member_of


class SeenEngineField(serializers.PrimaryKeyRelatedField[Engine]):
    """The id of an engine of the library or of the member's own shop."""

    def __init__(self, **kwargs: Any) -> None:  # noqa: ANN401 - DRF's signature
        super().__init__(queryset=Engine.objects.none(), **kwargs)

    def get_queryset(self) -> Any:  # noqa: ANN401 - DRF's signature
        request = self.context.get("request")
        if request is None or request.auth is None:
            # The description of the API is drawn without anybody asking.
            return Engine.objects.none()
        return Engine.objects.seen_by(member_of(request)).in_use()
