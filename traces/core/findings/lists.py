"""Lists and ordinals in words."""

from collections.abc import Sequence

_ENDS = {1: "st", 2: "nd", 3: "rd"}


def listed(items: Sequence[object], last: str = "and") -> str:
    """Return "1", "1 and 4" or "1, 2 and 4"."""
    words = [str(i) for i in items]
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def numbered(number: int) -> str:
    """Return "1st" for 1, and so on."""
    end = "th" if number % 100 in (11, 12, 13) else _ENDS.get(number % 10, "th")
    return f"{number}{end}"


def cylinders_words(cylinders: Sequence[int]) -> str:
    """Return "cylinder 1" or "cylinders 1 and 4"."""
    return f"cylinder{'s' if len(cylinders) > 1 else ''} {listed(cylinders)}"
