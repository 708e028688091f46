"""Running balance: how much each cylinder drives an idling crank, from the teeth of its sensor.

The energy of the crank rises at each firing. From tooth times comes speed, from speed the energy
before and after each firing over what the crank holds, from all firings of a cylinder what it
gives beside the others. What a crank that was switched off at the end of the recording loses from
firing to firing is what a firing has to give; without that end only its usual size is known.
"""

from traces.core.running.coasting import WorkLevel, work_level
from traces.core.running.contribution import Contribution, contributions
from traces.core.running.driveline import TWO_MASSES, TwoMasses
from traces.core.running.flywheel import Balanced, FlywheelError, balanced
from traces.core.running.idle_stretch import IdleStretch, SpeedError, steady_idle
from traces.core.running.numbering import FiringMarks, MarksError, firing_marks
from traces.core.running.running_wheel import idle_track, is_caught
from traces.core.running.step_fit import FiringSteps, firing_steps

__all__ = [
    "TWO_MASSES",
    "Balanced",
    "Contribution",
    "FiringMarks",
    "FiringSteps",
    "FlywheelError",
    "IdleStretch",
    "MarksError",
    "SpeedError",
    "TwoMasses",
    "WorkLevel",
    "balanced",
    "contributions",
    "firing_marks",
    "firing_steps",
    "idle_track",
    "is_caught",
    "steady_idle",
    "work_level",
]
