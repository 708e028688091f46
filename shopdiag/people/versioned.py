"""Forms for records that two people may have open at once."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, TypeAlias, cast

from django import forms
from django.core.exceptions import ValidationError
from django.core.serializers.json import DjangoJSONEncoder
from django.forms.models import model_to_dict
from django.http import QueryDict
from django.utils.formats import date_format
from django.utils.translation import gettext

from shopdiag.people.asking_back import CONFIRMED
from shopdiag.people.models import Member, Versioned

if TYPE_CHECKING:
    ModelForm: TypeAlias = forms.ModelForm[Any]
else:
    ModelForm = forms.ModelForm

GUARDS = ("version", "opened", CONFIRMED)
_NOTHING = "–"


@dataclass(frozen=True, slots=True)
class Difference:
    """One field that two people filled differently, as it reads on the page."""

    name: str
    label: str
    theirs: str
    yours: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """What somebody else saved after this person opened the form."""

    by: Member | None
    at: datetime
    differences: tuple[Difference, ...]
    taken_over: tuple[Difference, ...]
    """Fields this person had not touched; the form now shows the other's values."""


class VersionedForm(ModelForm):
    """A model form that knows which version of the record it was filled from.

    The form carries the record's version and its values as they were opened. When somebody
    else saved meanwhile, `on_top_of` makes a form that keeps everything this person typed,
    takes over what he had not touched, and tells both sides' values of the rest.
    """

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    opened = forms.CharField(widget=forms.HiddenInput, required=False, strip=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        self.initial["version"] = self.instance.version
        self.initial["opened"] = self._snapshot(self.instance)

    @property
    def record_fields(self) -> list[str]:
        """Names of the record's fields on this form."""
        return [name for name in self.fields if name not in GUARDS]

    @property
    def expected_version(self) -> int:
        """The version that was opened."""
        version: int = self.cleaned_data["version"]
        return version

    def on_top_of(self, current: Versioned) -> "tuple[VersionedForm, Conflict]":
        """Return this input on top of `current`, and what the two disagree about."""
        opened = self._opened_values()
        data = cast("QueryDict", self.data).copy()
        differences: list[Difference] = []
        taken_over: list[Difference] = []
        for name in self.record_fields:
            theirs, yours = self._value_of(current, name), self.cleaned_data.get(name)
            if _same(theirs, yours):
                continue
            difference = Difference(
                name=name,
                label=str(self[name].label),
                theirs=self._shown(name, theirs),
                yours=self._shown(name, yours),
            )
            if name in opened and _same(opened[name], yours):
                taken_over.append(difference)
                _put(data, self.add_prefix(name), theirs)
            else:
                differences.append(difference)
        _put(data, self.add_prefix("version"), current.version)
        _put(data, self.add_prefix("opened"), self._snapshot(current))
        form = self.again(data, current)
        return form, Conflict(
            by=current.changed_by,
            at=current.changed_at,
            differences=tuple(differences),
            taken_over=tuple(taken_over),
        )

    def again(self, data: Any, current: Versioned) -> "VersionedForm":  # noqa: ANN401 - QueryDict
        """Make the same form anew; a form with arguments of its own overrides this."""
        return type(self)(data, instance=current, prefix=self.prefix)

    def _snapshot(self, row: Versioned) -> str:
        values = model_to_dict(row, fields=self.record_fields)
        return json.dumps(values, cls=DjangoJSONEncoder, sort_keys=True)

    def _opened_values(self) -> dict[str, Any]:
        """Return the opened values, cleaned as the typed ones are; what is broken is left out."""
        try:
            raw = json.loads(self.cleaned_data.get("opened") or "{}")
        except ValueError:
            return {}
        found: dict[str, Any] = {}
        for name in self.record_fields if isinstance(raw, dict) else ():
            if name in raw:
                try:
                    found[name] = self.fields[name].clean(raw[name])
                except ValidationError:
                    continue
        return found

    def _value_of(self, row: Versioned, name: str) -> Any:  # noqa: ANN401 - any field's value
        return getattr(row, name)

    def _shown(self, name: str, value: Any) -> str:  # noqa: ANN401 - any field's value
        choices = getattr(self.fields[name], "choices", None)
        if choices is None or isinstance(self.fields[name], forms.ModelChoiceField):
            return _text(value)
        labels = {str(key): str(label) for key, label in _flat(choices)}
        values = value if isinstance(value, list) else [value]
        return ", ".join(labels.get(_key(v), _text(v)) for v in values) or _NOTHING


def _key(value: Any) -> str:  # noqa: ANN401 - any choice's value
    return "" if value is None else str(value)


def _flat(choices: Iterable[Any]) -> Iterable[tuple[Any, Any]]:
    for key, label in choices:
        if isinstance(label, list | tuple):
            yield from _flat(label)
        else:
            yield key, label


def _same(one: Any, other: Any) -> bool:  # noqa: ANN401 - any field's value
    if isinstance(one, str) and isinstance(other, str):
        return one.replace("\r\n", "\n").strip() == other.replace("\r\n", "\n").strip()
    if one in (None, "", []) and other in (None, "", []):
        return True
    return bool(one == other)


def _text(value: Any) -> str:  # noqa: ANN401 - any field's value
    if value in (None, "", []):
        return _NOTHING
    if isinstance(value, bool):
        return gettext("yes") if value else gettext("no")
    if isinstance(value, date):
        return date_format(value)
    if isinstance(value, list):
        return ", ".join(str(v) for v in value)
    return str(value)


def _put(data: Any, name: str, value: Any) -> None:  # noqa: ANN401 - QueryDict, any field's value
    """Write a value into posted data the way a browser would have sent it."""
    if value is False:
        data.pop(name, None)
    elif isinstance(value, list):
        data.setlist(name, [str(v) for v in value])
    elif isinstance(value, date):
        data[name] = value.isoformat()
    else:
        data[name] = _key(getattr(value, "pk", value))
