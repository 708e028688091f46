"""One thing noticed about a capture."""

from dataclasses import dataclass, field
from typing import Annotated, Any, Literal, TypeAlias

from shopdiag.people.core.words import NOTHING, Text
from traces.core.plain_json import Decimals, PlainJson

Severity: TypeAlias = Literal["stop", "warn", "note"]
Seconds: TypeAlias = Annotated[float, Decimals(6)]


@dataclass(frozen=True, slots=True)
class Finding(PlainJson):
    """One thing noticed about the capture: what, where, and what to do about it.

    `stop` keeps the capture from being judged, `warn` limits trust, `note` informs.
    `from_s` and `to_s` are in the file's own time; None where the whole capture is meant.
    `seen` and `to_do` are worded when `message` and `remedy` are read, in the reader's language.
    """

    code: str
    severity: Severity
    channel: str | None = field(default=None, kw_only=True)
    from_s: Seconds | None = field(default=None, kw_only=True)
    to_s: Seconds | None = field(default=None, kw_only=True)
    seen: Text = NOTHING
    to_do: Text = NOTHING

    @property
    def message(self) -> str:
        """What was seen."""
        return str(self.seen)

    @property
    def remedy(self) -> str:
        """What to do about it."""
        return str(self.to_do)

    def published(self) -> dict[str, Any]:
        """Return it as programs are given it."""
        told = self.to_json()
        del told["seen"], told["to_do"]
        return told | {"message": self.message, "remedy": self.remedy}


def rounded(value: float | None, digits: int) -> float | None:
    """Return a figure rounded for the published form; None stays None."""
    return None if value is None else round(value, digits)
