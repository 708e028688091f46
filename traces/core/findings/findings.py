"""One thing noticed about a capture."""

from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

Severity: TypeAlias = Literal["stop", "warn", "note"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed about the capture: what, where, and what to do about it.

    `stop` keeps the capture from being judged, `warn` limits trust, `note` informs.
    `from_s` and `to_s` are in the file's own time; None where the whole capture is meant.
    """

    code: str
    severity: Severity
    message: str
    remedy: str
    channel: str | None = None
    from_s: float | None = None
    to_s: float | None = None

    def to_json(self) -> dict[str, Any]:
        """Return plain JSON values in the published order."""
        return {
            "code": self.code,
            "severity": self.severity,
            "channel": self.channel,
            "from_s": rounded(self.from_s, 6),
            "to_s": rounded(self.to_s, 6),
            "message": self.message,
            "remedy": self.remedy,
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> "Finding":
        """Read what `to_json` wrote."""
        return cls(**data)


def rounded(value: float | None, digits: int) -> float | None:
    """Return a figure rounded for the published form; None stays None."""
    return None if value is None else round(value, digits)
