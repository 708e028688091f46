"""The crank sensor's teeth while cranking: the crank slows at each compression."""

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
    PlainWords,
    Shown,
    SignalKind,
    in_the_curve_of,
    wordings_of,
)

_CODE = "crank-teeth"
_REACH_DEG = 24.0
"""Speed by angle shows where compressions stand less sharply than a current does."""


def _rpm(slowness: Floats, _rest: float, _level: float, mean_rpm: float) -> Floats:
    return np.asarray(mean_rpm / np.maximum(slowness, 1e-3))


def _published(part: Mapping[str, Any]) -> dict[str, Any]:
    told = {
        "signal": _CODE,
        "wheel": {"teeth": part["teeth"], "missing": part["missing"]},
        "wheel_pattern": part["pattern"],
        "speed": {"at_s": part["speed_at_s"], "rpm": part["speed_rpm"]},
    }
    if part["speed_by_angle"]:
        told["speed_by_angle"] = part["speed_by_angle"]
    return told


CRANK_TEETH = SignalKind(
    code=_CODE,
    carries="teeth",
    judged_in="traces.core.analysis.judged_by_teeth",
    method="teeth",
    channel_part=CRANK_SENSOR,
    choice=gettext_noop("Crank sensor's teeth"),
    on_channel=say("crank sensor's teeth"),
    shown=Shown(
        gettext_noop("Crank speed, tooth by tooth"),
        gettext_noop("revolutions a minute"),
        "rpm",
        gettext_noop("slowness in % of the mean"),
        gettext_noop("crank sensor's teeth, lower trust"),
    ),
    hump_words=HumpWords(
        say("dip of speed"),
        say("dips of speed"),
        say("the crank slows less"),
        say("the crank slows more there"),
        say("is"),
    ),
    compared=ComparedAxis(NOTHING, say("slowness over its mean"), ""),
    in_plot=_rpm,
    asks_wheel=True,
    has_level=False,
    cycle_in_percent=True,
    plots_speed=True,
    event_reach_deg=_REACH_DEG,
    part="teeth",
    published_part=_published,
    lower=LowerTrust(
        warning=say(
            "This is judged from the crank sensor's teeth and trusted less than the "
            "starter current: while the crank runs ahead of the starter, speed says "
            "less."
        ),
        shown=say("crank speed"),
        plain=PlainWords(
            say("the crank speeds up alike after all {n} compressions"),
            say("{low} of {n} compressions hardly accelerate the crank"),
            say("the crank speeds up by different amounts after {n} compressions"),
        ),
        wordings=wordings_of("crank_teeth"),
        in_the_curve=in_the_curve_of("crank_teeth"),
    ),
)
