"""One converter for all dataclasses that are stored or published as JSON.

A class gets `to_json` and `from_json` by `PlainJson`; one that writes its fields otherwise
overrides them, also for where it is a part of another. A field's type says to how many decimals
it is written: `Annotated[float, Decimals(4)]`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, is_dataclass
from functools import cache
from typing import Any, ClassVar, Literal, Self, TypeVar, get_origin

from cattrs import Converter
from cattrs.errors import ForbiddenExtraKeysError
from cattrs.gen import make_dict_structure_fn, make_dict_unstructure_fn

from shopdiag.people.core.words import Text

_Kind = TypeVar("_Kind")


@dataclass(frozen=True, slots=True)
class Decimals:
    """To how many decimals a figure is written."""

    places: int


class PlainJson:
    """A dataclass that is written as its fields, in their order, and read back."""

    __slots__ = ()

    skips_unknown: ClassVar[bool] = False
    """Whether fields that a later version wrote are left out instead of being refused."""

    def to_json(self) -> dict[str, Any]:
        """Return plain JSON values; `from_json` reads them back."""
        return fields_json(self)

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Read what `to_json` wrote, by this version or an older one.

        Raises
        ------
        KeyError, ValueError
            If a field is missing that has no default, or one is there that is not known.
        """
        return fields_from(cls, data)


def fields_json(value: object) -> dict[str, Any]:
    """Return a dataclass's fields as plain JSON values, in their order."""
    kind: Any = type(value)
    written: dict[str, Any] = _writer_of(kind)(value)
    return written


def fields_from(kind: type[_Kind], data: Mapping[str, Any]) -> _Kind:
    """Return the dataclass that `fields_json` wrote; what has a default may be missing.

    Raises
    ------
    KeyError, ValueError
        If a field is missing that has no default, or one is there that is not known.
    """
    hashed: Any = kind
    try:
        read: _Kind = _reader_of(hashed)(data, kind)
    except ForbiddenExtraKeysError as error:
        raise ValueError(str(error)) from error
    return read


_CONVERTER = Converter(
    forbid_extra_keys=True, detailed_validation=False, unstruct_collection_overrides={tuple: list}
)


@cache
def _writer_of(kind: Any) -> Callable[[Any], dict[str, Any]]:  # noqa: ANN401 - any annotation
    return make_dict_unstructure_fn(kind, _CONVERTER)


@cache
def _reader_of(kind: Any) -> Callable[[Mapping[str, Any], Any], Any]:  # noqa: ANN401 - any annotation
    return make_dict_structure_fn(
        kind,
        _CONVERTER,
        _cattrs_forbid_extra_keys=not getattr(kind, "skips_unknown", False),
        _cattrs_detailed_validation=False,
    )


def _part_reader(kind: Any) -> Callable[[Any, Any], Any]:  # noqa: ANN401 - any annotation
    """Return what reads a part; one that is read already is taken as it is."""
    return lambda data, _: data if isinstance(data, kind) else _reader_of(kind)(data, kind)


def _places(kind: Any) -> int | None:  # noqa: ANN401 - any annotation
    marks = getattr(kind, "__metadata__", ())
    return next((mark.places for mark in marks if isinstance(mark, Decimals)), None)


def _rounding(kind: Any) -> Callable[[float], float]:  # noqa: ANN401 - any annotation
    places = _places(kind)
    return lambda value: round(value, places)


def _is_written_by_itself(kind: Any) -> bool:  # noqa: ANN401 - any annotation
    return isinstance(kind, type) and issubclass(kind, PlainJson)


def _is_marked(kind: Any) -> bool:  # noqa: ANN401 - any annotation
    origin: Any = get_origin(kind)
    return origin is Literal or _places(kind) is not None


def _as_it_is(value: Any, _: Any) -> Any:  # noqa: ANN401 - any plain value
    """Leave what JSON has; which figures and words there may be, classes check themselves."""
    return value


_CONVERTER.register_unstructure_hook_factory(lambda kind: _places(kind) is not None, _rounding)
_CONVERTER.register_unstructure_hook_func(_is_written_by_itself, lambda value: value.to_json())
_CONVERTER.register_structure_hook_factory(is_dataclass, _part_reader)
_CONVERTER.register_structure_hook_func(
    _is_written_by_itself, lambda data, kind: kind.from_json(data)
)
_CONVERTER.register_structure_hook_func(_is_marked, _as_it_is)
_CONVERTER.register_unstructure_hook(Text, Text.to_json)
_CONVERTER.register_structure_hook(
    Text, lambda data, _: data if isinstance(data, Text) else Text.from_json(data)
)
for plain in (bool, int, float, str):
    _CONVERTER.register_structure_hook(plain, _as_it_is)
