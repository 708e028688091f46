"""The crank sensor's teeth of an idling engine: each firing speeds the crank up."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from shopdiag.people.core.words import NOTHING, gettext_noop, say
from traces.core.signal_kinds.channel_parts import CRANK_SENSOR
from traces.core.signal_kinds.signal_kind import (
    ComparedAxis,
    Floats,
    HumpWords,
    LowerTrust,
    Shown,
    SignalKind,
    in_the_curve_of,
    wordings_of,
)

_CODE = "running-teeth"


def _rpm(slowness: Floats, _rest: float, _level: float, mean_rpm: float) -> Floats:
    return np.asarray(mean_rpm / np.maximum(slowness, 1e-3))


def _published(part: Mapping[str, Any]) -> dict[str, Any]:
    return {"signal": _CODE, "running": dict(part)}


RUNNING_TEETH = SignalKind(
    code=_CODE,
    carries="teeth",
    judged_in="traces.core.analysis.judged_by_running",
    method="running",
    channel_part=CRANK_SENSOR,
    choice=gettext_noop("Crank sensor's teeth, engine idling"),
    on_channel=say("crank sensor's teeth, engine idling"),
    shown=Shown(
        gettext_noop("Crank speed at idle"),
        gettext_noop("revolutions a minute"),
        "rpm",
        gettext_noop("speed in % of the mean"),
        gettext_noop("running balance, lower trust"),
    ),
    hump_words=HumpWords(
        say("push"),
        say("pushes"),
        say("the crank speeds up less"),
        say("the crank speeds up more there"),
        say("is"),
    ),
    compared=ComparedAxis(NOTHING, say("speed over its mean"), ""),
    in_plot=_rpm,
    asks_wheel=True,
    has_level=False,
    cycle_in_percent=True,
    shows_compressions=False,
    part="running",
    published_part=_published,
    lower=LowerTrust(
        warning=say(
            "This is judged from the speed of the idling engine. It tells which cylinder adds "
            "less, not why."
        ),
        shown=say("running balance"),
        wordings=wordings_of("running_teeth"),
        in_the_curve=in_the_curve_of("running_teeth"),
        sound_from=0.92,
        confirm=say("Confirm with a swap test, a cut-out test or a gauge before any work."),
        when_unsure=say(
            "Record ten seconds of idle again, switch the engine off while recording, and stop the "
            "recorder once the crank stands."
        ),
    ),
)
