"""One cylinder's pressure, by a transducer in place of its plug."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from shopdiag.people.core.words import NOTHING, gettext_noop, say
from traces.core.signal_kinds.channel_parts import TRANSDUCER
from traces.core.signal_kinds.signal_kind import (
    ComparedAxis,
    Floats,
    HumpWords,
    Shown,
    SignalKind,
)

_CODE = "cylinder-pressure"


def _kpa(pressure: Floats, _rest: float, _level: float, _mean_rpm: float) -> Floats:
    return np.asarray(pressure)


def _published(part: Mapping[str, Any]) -> dict[str, Any]:
    return {"signal": _CODE, "pressure": dict(part)}


CYLINDER_PRESSURE = SignalKind(
    code=_CODE,
    carries="pressure",
    judged_in="traces.core.analysis.judged_by_pressure",
    method="pressure",
    channel_part=TRANSDUCER,
    choice=gettext_noop("Pressure in one cylinder"),
    on_channel=say("pressure in one cylinder"),
    shown=Shown(
        gettext_noop("Pressure in the cylinder"),
        gettext_noop("pressure over that of the air"),
        "kPa",
        gettext_noop("pressure in kPa"),
    ),
    hump_words=HumpWords(
        say("compression"),
        say("compressions"),
        say("the pressure rises less"),
        say("the pressure rises more there"),
        say("is"),
    ),
    compared=ComparedAxis(say("pressure, kPa"), NOTHING, "kPa"),
    in_plot=_kpa,
    needs_order=False,
    shows_compressions=False,
    shows_one_cylinder=True,
    part="pressure",
    published_part=_published,
)
