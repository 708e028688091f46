"""Signals beside the starter current that show compressions, behind the same report.

`analysis.judge` is the way in. Battery voltage sags with the starter current and is judged like it;
a crank sensor's teeth show the speed, which the twin predicts as well as the current. Both are
trusted less, and each report says so.
"""

from traces.core.signals.bits import with_sync_bit
from traces.core.signals.display import evidence_curve, shown_as, speed_curve
from traces.core.signals.edges import edge_times_s
from traces.core.signals.plain_method import PlainMethod, or_plain, telling_plainly
from traces.core.signals.sag import Ripple, Sag, sag_of, unscaled, volts_factor
from traces.core.signals.signal_findings import (
    anew,
    check_certainty,
    lower_trust,
    no_teeth,
    rest_assumed,
    reworded,
)
from traces.core.signals.teeth_method import TeethMethod, ToothCycles, tooth_cycles
from traces.core.signals.tooth_preparation import ToothPreparation, turning
from traces.core.signals.wheel import OnceACycle, ToothTrack, WheelError, clearest_track

__all__ = [
    "OnceACycle",
    "PlainMethod",
    "Ripple",
    "Sag",
    "TeethMethod",
    "ToothCycles",
    "ToothPreparation",
    "ToothTrack",
    "WheelError",
    "anew",
    "check_certainty",
    "clearest_track",
    "edge_times_s",
    "evidence_curve",
    "lower_trust",
    "no_teeth",
    "or_plain",
    "rest_assumed",
    "reworded",
    "sag_of",
    "shown_as",
    "speed_curve",
    "telling_plainly",
    "tooth_cycles",
    "turning",
    "unscaled",
    "volts_factor",
    "with_sync_bit",
]
