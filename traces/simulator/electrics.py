"""What turns a simulated engine: starter motor and battery, as numbers."""

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

StarterKind: TypeAlias = Literal["permanent-magnet", "series"]


@dataclass(frozen=True, slots=True)
class StarterModel:
    """A starter motor, all seen from the crank (through pinion, ring and any reduction).

    Parameters
    ----------
    torque_nm_per_a
        Torque at the crank for each ampere (and back-EMF in V s/rad) of a permanent-magnet
        motor, or the value a series motor approaches in saturation.
    knee_a
        Current at which a series motor has half its field; for family b's permanent-magnet
        motor the current at which armature reaction would take half of it.
    resistance_ohm, inductance_h
        Armature, brushes, field and cable.
    brush_drop_v
        Fixed drop over the brushes (families b and c).
    gear_ratio
        Armature turns for one crank turn: commutator ripple runs at its multiple.
    inertia_kg_m2
        Of armature and gears, at the crank (gear ratio squared included).
    drag_nm, drag_nms
        Rubbing and windage of the motor at the crank.
    commutator_bars, ripple_share
        Ripple of the current as a share of it.
    clutch_nm_per_rad, clutch_nms
        Stiffness and damping of the engaged one-way clutch (families b and c; rigid in a).
    wound_share
        Share of the field that a series winding makes, the rest being magnets (family c, where
        `kind` means nothing): 0 a permanent-magnet motor, 1 a series motor.
    lash_deg
        Play of pinion and planetary gear, crank degrees (family c).
    slip_rad_s_per_nm
        How fast the one-way clutch creeps under torque (family c).
    heating_k_per_j
        Warming of the windings by each joule lost in them (family c): copper's resistance rises
        0.39 % a kelvin, a ferrite magnet's field falls 0.2 %.
    hold_a
        Solenoid current while the key is held; three times that in the pull-in.
    """

    kind: StarterKind = "permanent-magnet"
    torque_nm_per_a: float = 0.42
    knee_a: float = 2000.0
    resistance_ohm: float = 0.0075
    inductance_h: float = 50e-6
    brush_drop_v: float = 0.9
    gear_ratio: float = 55.0
    inertia_kg_m2: float = 0.25
    drag_nm: float = 12.0
    drag_nms: float = 0.15
    commutator_bars: int = 23
    ripple_share: float = 0.015
    clutch_nm_per_rad: float = 9000.0
    clutch_nms: float = 12.0
    wound_share: float = 0.0
    lash_deg: float = 0.4
    slip_rad_s_per_nm: float = 1e-3
    heating_k_per_j: float = 2.5e-3
    hold_a: float = 9.0


@dataclass(frozen=True, slots=True)
class BatteryModel:
    """A lead-acid battery.

    Parameters
    ----------
    emf_v, resistance_ohm
        Open-circuit voltage and inner resistance.
    sag_v_per_as
        Loss of EMF for each ampere second drawn (families a and c).
    polarisation_ohm, polarisation_s
        A slow second resistance with its time constant (family b; in c with a slower third one).
    collapse_at_s, collapse_ohm_per_s
        From this time into the crank the inner resistance rises: a failing battery.
    """

    emf_v: float = 12.5
    resistance_ohm: float = 0.0055
    sag_v_per_as: float = 2.0e-4
    polarisation_ohm: float = 0.0015
    polarisation_s: float = 0.4
    collapse_at_s: float = math.inf
    collapse_ohm_per_s: float = 0.02
