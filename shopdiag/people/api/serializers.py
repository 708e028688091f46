"""Reading a request's fields."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from rest_framework import serializers


class ConfirmedField(serializers.BooleanField):
    """The tick of the pages: what is asked back is refused under its name until it is true."""

    def __init__(self, **kwargs: Any) -> None:  # noqa: ANN401 - DRF's signature
        kwargs.setdefault("required", False)
        kwargs.setdefault("default", False)
        kwargs.setdefault(
            "help_text",
            "An odd figure, or the same under another form_token, is refused with 400 and its "
            "question under this name; true keeps it as sent, and answers whatever this one "
            "request is asked.",
        )
        super().__init__(**kwargs)


class KnownFields(serializers.Serializer[Any]):
    """Refuses a field that it does not know, so that a slip of the pen loses nothing silently."""

    def to_internal_value(self, data: Any) -> Any:  # noqa: ANN401 - DRF's signature
        if isinstance(data, Mapping):
            strange = [str(name)[:60] for name in data if name not in self.fields]
            if strange:
                known = ", ".join(self._writable)
                raise serializers.ValidationError(
                    {
                        name: [
                            _("There is no such field here; known are %(known)s.")
                            % {"known": known}
                        ]
                        for name in strange
                    }
                )
        return super().to_internal_value(data)

    @property
    def _writable(self) -> list[str]:
        return [name for name, field in self.fields.items() if not field.read_only]
