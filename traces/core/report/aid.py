"""One question about a curve, with its answer."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Aid:
    """One question about a curve and its answer, a few sentences."""

    title: str
    sentences: tuple[str, ...]
