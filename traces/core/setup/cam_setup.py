"""What a person says about cam sensors recorded beside the crank's."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

from shopdiag.people.core.words import gettext as _
from traces.core.plain_json import PlainJson
from traces.core.setup.setup_error import SetupError

Valves: TypeAlias = Literal["intake", "exhaust"]

_MOST_CAMS = 8
_TEETH = (12, 120)


@dataclass(frozen=True, slots=True)
class CamChannel(PlainJson):
    """A cam sensor's channel.

    Parameters
    ----------
    channel
        By name or number from 1.
    bank
        1 or 2; None where the engine has one, or nobody said it.
    valves
        Which valves the cam opens; None where it opens both, or nobody said it.
    """

    channel: str
    bank: int | None = None
    valves: Valves | None = None


@dataclass(frozen=True, slots=True)
class CamSetup(PlainJson):
    """Cam sensors beside the crank's.

    Parameters
    ----------
    cams
        Their channels; empty where every other channel with edges is taken for one.
    sprocket_teeth
        Teeth of the sprocket on the cam; None where not said. The crank's has half as many.

    Raises
    ------
    SetupError
        If a figure makes no sense, or a channel is named twice.
    """

    cams: tuple[CamChannel, ...] = ()
    sprocket_teeth: int | None = None

    def __post_init__(self) -> None:
        least, most = _TEETH
        if self.sprocket_teeth is not None and not least <= self.sprocket_teeth <= most:
            raise SetupError(
                _("A cam's sprocket has {least} to {most} teeth.").format(least=least, most=most)
            )
        if len(self.cams) > _MOST_CAMS:
            raise SetupError(_("At most eight cams can be read at once."))
        if len({cam.channel for cam in self.cams}) < len(self.cams):
            raise SetupError(_("Each cam's channel may be named once."))
        if any(cam.bank not in (None, 1, 2) for cam in self.cams):
            raise SetupError(_("A bank is 1 or 2."))
