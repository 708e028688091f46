"""What a program may send, as the page's own form has it: its fields, limits and choices."""

from typing import Any, ClassVar, Generic, Self, TypeVar
from uuid import uuid4

from django import forms
from rest_framework import serializers
from rest_framework.request import Request

from jobs.api.checking import check, merged
from shopdiag.people.api.serializers import ConfirmedField, KnownFields
from shopdiag.people.asking_back import CONFIRMED, AsksBack
from shopdiag.people.models import Versioned
from shopdiag.people.versioned import GUARDS, VersionedForm

Field = serializers.Field[Any, Any, Any, Any]
FormType = TypeVar("FormType", bound=forms.BaseForm)

TOKEN = "form_token"  # noqa: S105 - the name of a field


class FormInput(KnownFields, Generic[FormType]):
    """Input that a page's form checks: its fields, unless a subclass declares one otherwise."""

    form_class: type[FormType]
    help_texts: ClassVar[dict[str, str]] = {}
    """What a program has to know of a field, by its name."""
    left_out: ClassVar[tuple[str, ...]] = ()
    """Fields of the form that are no business of a program's."""

    def get_fields(self) -> dict[str, Field]:
        """Return the declared fields, and those of the form that are not declared."""
        fields: dict[str, Field] = dict(super().get_fields())
        for name, field in self._form_fields.items():
            if name not in fields and name not in self.left_out and name not in GUARDS:
                fields[name] = self._counterpart(name, field)
        if issubclass(self.form_class, VersionedForm):
            fields["version"] = serializers.IntegerField(
                min_value=1,
                default=1,
                help_text="The version that was read; 1 where nothing was saved yet.",
            )
        if issubclass(self.form_class, AsksBack):
            fields[CONFIRMED] = ConfirmedField()
        return fields

    @property
    def _form_fields(self) -> dict[str, forms.Field]:
        fields: dict[str, forms.Field] = vars(self.form_class)["base_fields"]
        return fields

    @classmethod
    def of(cls, request: Request) -> Self:
        """Return the input of a request, once its fields are of their kind.

        Raises
        ------
        rest_framework.exceptions.ValidationError
            If a field is missing, unknown or of another kind.
        """
        asked = cls(data=request.data)
        asked.is_valid(raise_exception=True)
        return asked

    def form(self, **made_with: Any) -> FormType:  # noqa: ANN401 - what the form takes
        """Return the page's form, filled with what was sent and found right.

        Raises
        ------
        rest_framework.exceptions.ValidationError
            With the page's sentences by field.
        """
        token = self.validated_data.get(TOKEN)
        sent = {**self.validated_data, TOKEN: token or uuid4()}
        form = self.form_class(sent, **made_with)
        check(form)
        if TOKEN in form.cleaned_data:
            form.cleaned_data[TOKEN] = token
        return form

    def form_on(self, row: Versioned, **made_with: Any) -> FormType:  # noqa: ANN401
        """Return the page's form of a record: what stands in it, and over it what was sent."""
        names = [name for name in self._form_fields if name not in GUARDS]
        data = merged(row, names, self.validated_data)
        form: FormType = self.form_class(data, **{"instance": row, **made_with})
        check(form)
        return form

    def _counterpart(self, name: str, field: forms.Field) -> Field:
        if name == TOKEN:
            return serializers.UUIDField(
                required=False,
                allow_null=True,
                default=None,
                help_text="Sent twice, it counts once.",
            )
        options: dict[str, Any] = {"help_text": self.help_texts.get(name, "")}
        if issubclass(self.form_class, VersionedForm):
            options["required"] = False
        elif not field.required:
            options |= {"required": False, "default": _NOTHING.get(_kind(field))}
        kind = _kind(field)
        if not field.required:
            options["allow_blank" if kind in _TEXTS else "allow_null"] = True
        for option in ("max_length", "min_value", "max_value", "choices"):
            if (value := getattr(field, option, None)) is not None:
                options[option] = value
        if kind is serializers.CharField:
            options["trim_whitespace"] = getattr(field, "strip", True)
        return kind(**options)


_KINDS: tuple[tuple[type[forms.Field], type[Field]], ...] = (
    (forms.FloatField, serializers.FloatField),
    (forms.IntegerField, serializers.IntegerField),
    (forms.BooleanField, serializers.BooleanField),
    (forms.DateField, serializers.DateField),
    (forms.ChoiceField, serializers.ChoiceField),
    (forms.CharField, serializers.CharField),
)
_TEXTS = frozenset({serializers.CharField, serializers.ChoiceField})
_NOTHING: dict[type[Field], Any] = {
    serializers.CharField: "",
    serializers.ChoiceField: "",
    serializers.BooleanField: False,
}
"""What stands for a field that was not sent; null where nothing stands here."""


def _kind(field: forms.Field) -> type[Field]:
    """Return the kind of field that takes what a field of a form takes."""
    for of_form, of_input in _KINDS:
        if isinstance(field, of_form):
            return of_input
    message = f"A {type(field).__name__} has no counterpart: declare the field."
    raise TypeError(message)
