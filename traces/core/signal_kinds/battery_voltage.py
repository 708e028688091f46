"""Battery voltage while cranking: it sags as the starter draws."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from shopdiag.people.core.words import gettext_noop, say
from traces.core.signal_kinds.channel_parts import BATTERY
from traces.core.signal_kinds.signal_kind import (
    ComparedAxis,
    Floats,
    HumpWords,
    LowerTrust,
    PlainWords,
    Shown,
    SignalKind,
    in_the_curve_of,
    wordings_of,
)

_CODE = "battery-voltage"


def _volts(cycle: Floats, rest_v: float, sag_v: float, _rpm: float) -> Floats:
    return np.asarray(rest_v - sag_v * cycle)


def _published(part: Mapping[str, Any]) -> dict[str, Any]:
    return {"signal": _CODE, **part}


BATTERY_VOLTAGE = SignalKind(
    code=_CODE,
    carries="voltage",
    judged_in="traces.core.analysis.judged_by_voltage",
    method="voltage",
    channel_part=BATTERY,
    choice=gettext_noop("Battery voltage while cranking"),
    on_channel=say("battery voltage"),
    shown=Shown(
        gettext_noop("Battery voltage while cranking"),
        gettext_noop("volts"),
        "V",
        gettext_noop("battery's sag in volts"),
        gettext_noop("battery voltage, lower trust"),
    ),
    hump_words=HumpWords(
        say("dip"),
        say("dips"),
        say("the battery is pulled down less"),
        say("the battery is pulled down further there"),
        say("is"),
    ),
    compared=ComparedAxis(say("volts of sag"), say("sag over its mean"), "V"),
    in_plot=_volts,
    part="voltage",
    published_part=_published,
    lower=LowerTrust(
        warning=say(
            "This is judged from the battery voltage and trusted less than the "
            "starter current: the battery and other loads show in it too."
        ),
        shown=say("battery voltage"),
        plain=PlainWords(
            say("the voltage recovers alike after all {n} compressions"),
            say("after {low} of {n} compressions the voltage hardly recovers"),
            say("the voltage recovers by different amounts after {n} compressions"),
        ),
        wordings=wordings_of("battery_voltage"),
        in_the_curve=in_the_curve_of("battery_voltage"),
    ),
)
