"""Cam against crank: where each edge of a cam sensor stands on the crank, and how far it has moved.

Teeth of the crank's wheel give the crank angle at every moment, counted from the wheel's gap. The
edges of a cam sensor come back every 720 degrees of it; their places are the cam's phase. How late
a cam is shows beside a known-good recording of the same engine, because nobody publishes where its
sensor's edges belong.
"""

from traces.core.cam_timing.cam_edges import CamTrace, cam_trace
from traces.core.cam_timing.cam_error import CamError, CamTrouble
from traces.core.cam_timing.cam_reading import CamChannels, CamReading, read_cams
from traces.core.cam_timing.cam_shift import beside_good_cams
from traces.core.cam_timing.cam_words import moved_words, noticed_words, trouble_words
from traces.core.cam_timing.crank_angle import CrankAngle, crank_angles

__all__ = [
    "CamChannels",
    "CamError",
    "CamReading",
    "CamTrace",
    "CamTrouble",
    "CrankAngle",
    "beside_good_cams",
    "cam_trace",
    "crank_angles",
    "moved_words",
    "noticed_words",
    "read_cams",
    "trouble_words",
]
