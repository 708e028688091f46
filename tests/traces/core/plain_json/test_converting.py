"""Dataclasses to and from JSON."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, ClassVar, Literal, Self

import pytest

from traces.core.plain_json import Decimals, PlainJson

Share = Annotated[float, Decimals(2)]


@dataclass(frozen=True, slots=True)
class Wheel(PlainJson):
    """Writes itself as one text."""

    teeth: int

    def to_json(self) -> dict[str, Any]:
        return {"written": f"{self.teeth}-2"}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        return cls(int(data["written"].partition("-")[0]))


@dataclass(frozen=True, slots=True)
class Span:
    """A part that is no `PlainJson` itself."""

    from_s: float
    to_s: float

    def __post_init__(self) -> None:
        if self.to_s < self.from_s:
            raise ValueError("backwards")


@dataclass(frozen=True, slots=True)
class Figures(PlainJson):
    name: str
    # the order written is the order of the fields, whichever have defaults
    share: Share | None = field(default=None, kw_only=True)
    call: Literal["low", "sound"]
    shares: tuple[Share, ...] = ()
    span: tuple[float, float] | None = None
    sets: tuple[tuple[int, ...], ...] = ()
    wheel: Wheel | None = None
    spans: tuple[Span, ...] = ()
    words: Mapping[str, str] = field(default_factory=dict)
    is_whole: bool = False


@dataclass(frozen=True, slots=True)
class Lenient(PlainJson):
    skips_unknown: ClassVar[bool] = True

    name: str


FULL = Figures(
    "a",
    "low",
    (0.125, 0.875, 2),
    (0.123456, 2.0),
    ((1, 3), ()),
    Wheel(60),
    (Span(1, 2.0),),
    {"k": "v"},
    is_whole=True,
    share=1.23456,
)
WRITTEN = (
    '{"name": "a", "share": 1.23, "call": "low", "shares": [0.12, 0.88, 2], '
    '"span": [0.123456, 2.0], "sets": [[1, 3], []], "wheel": {"written": "60-2"}, '
    '"spans": [{"from_s": 1, "to_s": 2.0}], "words": {"k": "v"}, "is_whole": true}'
)


def test_fields_are_written_in_their_order_and_rounded_as_their_type_says():
    assert json.dumps(FULL.to_json()) == WRITTEN


def test_what_was_written_comes_back_with_rows_as_tuples_and_whole_numbers_as_such():
    read = Figures.from_json(json.loads(WRITTEN))
    assert read.sets == ((1, 3), ())
    assert read.spans == (Span(1, 2.0),)
    assert read.wheel == Wheel(60)
    assert isinstance(read.shares[2], int)
    assert json.dumps(read.to_json()) == WRITTEN


def test_a_field_with_a_default_may_be_missing_and_no_other():
    assert Figures.from_json({"name": "a", "call": "sound"}) == Figures("a", "sound")
    with pytest.raises(KeyError, match="call"):
        Figures.from_json({"name": "a"})


def test_an_unknown_field_is_refused_in_parts_too_unless_the_class_skips_it():
    bare = {"name": "a", "call": "low"}
    for data in (
        bare | {"later": 1},
        bare | {"spans": [{"from_s": 1, "to_s": 2, "later": 3}]},
    ):
        with pytest.raises(ValueError, match="later"):
            Figures.from_json(data)
    assert Lenient.from_json({"name": "a", "later": 1}) == Lenient("a")


def test_what_a_part_refuses_comes_through_as_it_is():
    with pytest.raises(ValueError, match="backwards"):
        Figures.from_json({"name": "a", "call": "low", "spans": [{"from_s": 2, "to_s": 1}]})
