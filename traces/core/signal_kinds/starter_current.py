"""The starter's current, from a clamp: what it says is trusted most."""

import numpy as np

from shopdiag.people.core.words import gettext_noop, say
from traces.core.signal_kinds.channel_parts import CLAMP
from traces.core.signal_kinds.signal_kind import (
    ComparedAxis,
    Floats,
    HumpWords,
    Shown,
    SignalKind,
)


def _amps(cycle: Floats, rest: float, level: float, _rpm: float) -> Floats:
    return np.asarray(rest + level * cycle)


STARTER_CURRENT = SignalKind(
    code="starter-current",
    carries="current",
    judged_in="traces.core.analysis.judged_by_current",
    method="twin",
    channel_part=CLAMP,
    choice=gettext_noop("Starter current, from a clamp"),
    on_channel=say("clamp"),
    shown=Shown(
        gettext_noop("Cranking current"),
        gettext_noop("amps"),
        "A",
        gettext_noop("clamp current in amps"),
    ),
    hump_words=HumpWords(
        say("hump"),
        say("humps"),
        say("the starter needs less current"),
        say("the starter has to pull harder there"),
        say("stands"),
        has_tops=True,
    ),
    compared=ComparedAxis(say("amps above rest"), say("current over its mean"), "A"),
    in_plot=_amps,
    needs_scale=True,
)
