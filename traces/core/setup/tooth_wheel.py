"""The wheel in front of a crank sensor, as a person describes it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Self

from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import say
from traces.core.plain_json import PlainJson
from traces.core.setup.setup_error import SetupError

_TEETH = (4, 400)
_WRITTEN = re.compile(r"(?P<teeth>\d{1,3})(?:(?P<gaps>(?:-\d{1,2}){1,8})|\+(?P<additional>1))?")
_HOW_WRITTEN = say(
    "Write the wheel as places and missing teeth like 60-2, 36-2-2-2 or "
    "36-2-1-1, or as 12+1 where one tooth more stands between two others."
)


@dataclass(frozen=True, slots=True)
class ToothWheel(PlainJson):
    """The wheel; what is None is found from the recording.

    Parameters
    ----------
    teeth
        Places for teeth in a crank turn, missing ones counted in, an additional one not.
    missing
        How many of them are missing, in all gaps together; follows from `gaps`.
    gaps
        Missing teeth of each gap of a turn; empty where only their sum is known, or nothing.
    additional
        Whether one tooth stands between two of the others.

    Raises
    ------
    SetupError
        If no wheel is like that.
    """

    teeth: int | None = None
    missing: int | None = None
    gaps: tuple[int, ...] = ()
    additional: bool = False

    def __post_init__(self) -> None:
        least, most = _TEETH
        if self.teeth is not None and not least <= self.teeth <= most:
            raise SetupError(
                _("A tooth wheel has {least} to {most} teeth per revolution.").format(
                    least=least, most=most
                )
            )
        if self.gaps:
            if self.teeth is None or min(self.gaps) < 1:
                raise SetupError(_HOW_WRITTEN)
            if self.missing not in (None, sum(self.gaps)):
                raise SetupError(_("The gaps and the number of missing teeth do not agree."))
            object.__setattr__(self, "missing", sum(self.gaps))
        if self.additional and (self.teeth is None or self.gaps or self.missing):
            raise SetupError(_HOW_WRITTEN)
        if self.missing is not None and not 0 <= self.missing <= (self.teeth or most) // 4:
            raise SetupError(_("At most a quarter of the wheel's teeth can be missing."))

    @classmethod
    def parse(cls, written: str) -> Self:
        """Read a wheel like 60-2, 36-2-1-1, 12+1 or 36.

        Raises
        ------
        SetupError
            If it is not written like that, or no wheel is like that.
        """
        found = _WRITTEN.fullmatch(re.sub(r"\s", "", written).replace("–", "-"))
        if found is None:
            raise SetupError(_HOW_WRITTEN)
        gaps = tuple(int(gap) for gap in (found["gaps"] or "").split("-") if gap)
        if gaps == (0,):
            return cls(int(found["teeth"]), 0)
        additional = found["additional"] is not None
        return cls(int(found["teeth"]), gaps=gaps, additional=additional)

    @property
    def written(self) -> str:
        """The wheel as `parse` reads it; without gaps the number of teeth, "" if unknown."""
        if self.teeth is None:
            return ""
        if self.additional:
            return f"{self.teeth}+1"
        return "-".join(
            map(str, (self.teeth, *(self.gaps or ((self.missing,) if self.missing else ()))))
        )

    @property
    def pattern(self) -> str | None:
        """The wheel as it is written, None where it was not entered as a pattern."""
        return self.written if self.gaps or self.additional else None

    def to_json(self) -> dict[str, Any]:
        """Return plain values; the pattern stands there where one was entered."""
        told: dict[str, Any] = {"teeth": self.teeth, "missing": self.missing}
        return told | ({"pattern": self.pattern} if self.pattern else {})

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Read what `to_json` wrote, or a part of it; the pattern holds all the rest.

        Raises
        ------
        SetupError
            If no wheel is like that, or the pattern says something else than the numbers.
        """
        teeth, missing = data.get("teeth"), data.get("missing")
        if not data.get("pattern"):
            return cls(teeth, missing)
        wheel = cls.parse(data["pattern"])
        if teeth not in (None, wheel.teeth) or missing not in (None, wheel.missing):
            raise SetupError(_("The wheel's pattern and the number of its teeth do not agree."))
        return wheel
