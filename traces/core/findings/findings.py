"""One thing noticed about a capture."""

from dataclasses import dataclass, field
from typing import Annotated, Literal, TypeAlias

from traces.core.plain_json import Decimals, PlainJson

Severity: TypeAlias = Literal["stop", "warn", "note"]
Seconds: TypeAlias = Annotated[float, Decimals(6)]


@dataclass(frozen=True, slots=True)
class Finding(PlainJson):
    """One thing noticed about the capture: what, where, and what to do about it.

    `stop` keeps the capture from being judged, `warn` limits trust, `note` informs.
    `from_s` and `to_s` are in the file's own time; None where the whole capture is meant.
    """

    code: str
    severity: Severity
    channel: str | None = field(default=None, kw_only=True)
    from_s: Seconds | None = field(default=None, kw_only=True)
    to_s: Seconds | None = field(default=None, kw_only=True)
    message: str
    remedy: str


def rounded(value: float | None, digits: int) -> float | None:
    """Return a figure rounded for the published form; None stays None."""
    return None if value is None else round(value, digits)
