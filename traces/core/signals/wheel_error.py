"""Edges that fit no wheel."""

from shopdiag.people.core.words import Text


class WheelError(ValueError):
    """The edges fit no wheel; the text says what was seen, as part of a sentence.

    Parameters
    ----------
    why
        Part of a sentence.
    weight
        How much it says about the wheel; of several errors the weightiest is told.
    """

    def __init__(self, why: Text, *, weight: int = 1) -> None:
        super().__init__(why)
        self.why = why
        self.weight = weight
