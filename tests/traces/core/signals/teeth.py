"""Sensors, wheels and tooth times with a known answer."""

import numpy as np

from traces.simulator.tooth_sensor import ToothSensor

COIL = ToothSensor(kind="coil")
SWITCH = ToothSensor(teeth=36, gaps=(1,), kind="switch", spacing_deg=0.06)


def tooth_times_s(places, teeth, angle_deg_of, until_s):
    """Return when teeth pass a crank whose angle over time is a rising function."""
    fine_s = np.linspace(0, until_s, 200_001)
    turned = angle_deg_of(fine_s)
    turns = np.arange(0, turned[-1] // 360 + 1)
    angles = (turns[:, None] * 360 + np.array(places) * 360 / teeth).ravel()
    angles = angles[(angles >= turned[0]) & (angles < turned[-1])]
    return np.interp(angles, turned, fine_s), angles


def swinging(time_s):
    """Return the angle of a crank at 240 rpm whose speed swings by a third, 8 times a second."""
    return 1440 * time_s + 1440 / 3 / (16 * np.pi) * np.sin(16 * np.pi * time_s)


def wheel_of(teeth, gaps):
    """Return the places of a wheel whose gaps begin at given places with given sizes."""
    bare = {p for first, size in gaps for p in range(first, first + size)}
    return [p for p in range(teeth) if p not in bare]
