"""Engine faults to draw: which cylinders are low, by what, and how it changes over cycles."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from engines.core.firing import FiringOrder
from traces.simulator.engine import Cylinder, GasketLeak
from traces.simulator.layouts import SimulatedLayout

_DEAD_MM2 = (120.0, 400.0)
_SPROCKET_TEETH = (18, 22)
_REFERENCE_L = 0.5


@dataclass(frozen=True, slots=True)
class Subject:
    """The engine a fault is put into: sound cylinders by number, and how they sit."""

    order: FiringOrder
    cylinders: tuple[Cylinder, ...]
    neighbours: tuple[tuple[int, int], ...]
    banks: tuple[tuple[int, ...], ...]
    cylinder_l: float

    @classmethod
    def of(
        cls, layout: SimulatedLayout, at: int, cylinders: tuple[Cylinder, ...], cylinder_l: float
    ) -> "Subject":
        """Return the subject for order number `at` of a layout."""
        return cls(layout.order(at), cylinders, layout.neighbours(at), layout.banks(at), cylinder_l)

    @property
    def companions(self) -> list[tuple[int, int]]:
        """Return pairs that fire one crank turn apart, each once."""
        pairs = [(c, self.order.companion_of(c)) for c in self.order.sequence]
        return [(a, b) for a, b in pairs if b is not None and a < b]


Faulty = tuple[tuple[Cylinder, ...], GasketLeak | None]


def put(kind: str, subject: Subject, rng: np.random.Generator) -> Faulty:
    """Return the subject's cylinders with a fault of `kind`, and a gasket leak if it has one.

    Raises
    ------
    ValueError
        If there is no such kind or this engine cannot have it.
    """
    if kind not in FAULTS:
        raise ValueError(f"there is no fault “{kind}”; take one of {', '.join(FAULTS)}")
    if not possible(kind, subject):
        raise ValueError(f"an engine {subject.order} cannot have the fault “{kind}”")
    return _MAKERS[kind](subject, rng)


def possible(kind: str, subject: Subject) -> bool:
    """Return whether this engine has the cylinders for a fault."""
    if kind in {"bank", "bank-late"}:
        return len(subject.banks) > 1 and len(subject.order) > 2
    if kind == "companions":
        return bool(subject.companions) and len(subject.order) > 2
    if kind == "adjacent":
        return bool(subject.neighbours) and len(subject.order) > 2
    if kind == "two":
        return len(subject.order) > 3
    return True


def _leak_mm2(subject: Subject, rng: np.random.Generator, low: float, high: float) -> float:
    """Return an orifice between two limits given for half a litre."""
    size = np.exp(rng.uniform(np.log(low), np.log(high)))
    return float(size * subject.cylinder_l / _REFERENCE_L)


def _any(subject: Subject, rng: np.random.Generator) -> int:
    return int(rng.integers(1, len(subject.order) + 1))


def _changed(subject: Subject, changes: Mapping[int, Cylinder]) -> tuple[Cylinder, ...]:
    return tuple(
        replace(changes[number], faulty=True) if number in changes else cylinder
        for number, cylinder in enumerate(subject.cylinders, start=1)
    )


def _low(subject: Subject, rng: np.random.Generator, number: int) -> Cylinder:
    """Return a cylinder made low: mostly by a leak, at times by what it is not filled with."""
    cylinder = subject.cylinders[number - 1]
    cause = rng.random()
    if cause < 0.75:
        return replace(cylinder, fault_leak_mm2=_leak_mm2(subject, rng, 1.8, 10.0))
    if cause < 0.9:
        return replace(cylinder, mass_factor=float(rng.uniform(0.35, 0.72)))
    return replace(cylinder, clearance_factor=float(rng.uniform(1.4, 2.2)))


def _none(subject: Subject, _rng: np.random.Generator) -> Faulty:
    return subject.cylinders, None


def _one(subject: Subject, rng: np.random.Generator) -> Faulty:
    number = _any(subject, rng)
    return _changed(subject, {number: _low(subject, rng, number)}), None


def _two(subject: Subject, rng: np.random.Generator) -> Faulty:
    pair = rng.choice(len(subject.order), size=2, replace=False) + 1
    return _changed(subject, {int(c): _low(subject, rng, int(c)) for c in pair}), None


def _adjacent(subject: Subject, rng: np.random.Generator) -> Faulty:
    a, b = subject.neighbours[int(rng.integers(len(subject.neighbours)))]
    if rng.random() < 0.5:
        gasket = GasketLeak((a, b), _leak_mm2(subject, rng, 3.0, 12.0))
        sound = subject.cylinders
        return _changed(subject, {c: sound[c - 1] for c in (a, b)}), gasket
    return _changed(subject, {c: _low(subject, rng, c) for c in (a, b)}), None


def _companions(subject: Subject, rng: np.random.Generator) -> Faulty:
    pairs = subject.companions
    pair = pairs[int(rng.integers(len(pairs)))]
    return _changed(subject, {c: _low(subject, rng, c) for c in pair}), None


def _bank(subject: Subject, rng: np.random.Generator) -> Faulty:
    bank = subject.banks[int(rng.integers(len(subject.banks)))]
    return _changed(subject, _late(subject, rng, bank)), None


def _bank_late(subject: Subject, rng: np.random.Generator) -> Faulty:
    bank = subject.banks[int(rng.integers(len(subject.banks)))]
    # the chain has jumped one tooth of the crank's sprocket
    return late_bank(subject, bank, 360.0 / int(rng.integers(*_SPROCKET_TEETH, endpoint=True)))


def late_bank(subject: Subject, bank: tuple[int, ...], late_deg: float) -> Faulty:
    """Return the subject with all valves of a bank late by crank degrees; negative is early."""
    sound = subject.cylinders
    late = {
        c: replace(sound[c - 1], late_closing_deg=late_deg, late_exhaust_deg=late_deg) for c in bank
    }
    return _changed(subject, late), None


def _late_cam(subject: Subject, rng: np.random.Generator) -> Faulty:
    return _changed(subject, _late(subject, rng, subject.order.sequence)), None


def _late(
    subject: Subject, rng: np.random.Generator, numbers: tuple[int, ...]
) -> dict[int, Cylinder]:
    late_deg = float(rng.uniform(28, 48))
    return {c: replace(subject.cylinders[c - 1], late_closing_deg=late_deg) for c in numbers}


def _all(subject: Subject, rng: np.random.Generator) -> Faulty:
    leak = _leak_mm2(subject, rng, 1.0, 4.0)
    worn = {
        number: replace(cylinder, fault_leak_mm2=leak * float(rng.uniform(0.93, 1.07)))
        for number, cylinder in enumerate(subject.cylinders, start=1)
    }
    return _changed(subject, worn), None


def _with_leak(low_mm2: float, high_mm2: float) -> Callable[[Subject, np.random.Generator], Faulty]:
    def put_in(subject: Subject, rng: np.random.Generator) -> Faulty:
        number = _any(subject, rng)
        leak = _leak_mm2(subject, rng, low_mm2, high_mm2)
        cylinder = replace(subject.cylinders[number - 1], fault_leak_mm2=leak)
        return _changed(subject, {number: cylinder}), None

    return put_in


def _high(subject: Subject, rng: np.random.Generator) -> Faulty:
    number = _any(subject, rng)
    cylinder = subject.cylinders[number - 1]
    factor = cylinder.clearance_factor * float(rng.uniform(0.70, 0.84))
    return _changed(subject, {number: replace(cylinder, clearance_factor=factor)}), None


def _worn_lobe(subject: Subject, rng: np.random.Generator) -> Faulty:
    # at cranking speed a hundredth of a valve's lift fills half a cylinder
    number, lift = _any(subject, rng), float(np.exp(rng.uniform(np.log(0.008), np.log(0.03))))
    worn = replace(subject.cylinders[number - 1], intake_lift=lift)
    return _changed(subject, {number: worn}), None


def _exhaust_shut(subject: Subject, rng: np.random.Generator) -> Faulty:
    number = _any(subject, rng)
    shut = replace(subject.cylinders[number - 1], exhaust_lift=0.0)
    return _changed(subject, {number: shut}), None


def _comes_and_goes(subject: Subject, rng: np.random.Generator) -> Faulty:
    number = _any(subject, rng)
    cylinder = replace(
        subject.cylinders[number - 1],
        fault_leak_mm2=_leak_mm2(subject, rng, 5.0, 20.0),
        fault_share_of_cycles=float(rng.uniform(0.3, 0.7)),
    )
    return _changed(subject, {number: cylinder}), None


def _recovers(subject: Subject, rng: np.random.Generator) -> Faulty:
    number = _any(subject, rng)
    cylinder = replace(
        subject.cylinders[number - 1],
        fault_leak_mm2=_leak_mm2(subject, rng, 6.0, 20.0),
        fault_recovery_s=float(rng.uniform(0.5, 1.2)),
    )
    return _changed(subject, {number: cylinder}), None


_MAKERS: Mapping[str, Callable[[Subject, np.random.Generator], Faulty]] = MappingProxyType(
    {
        "none": _none,
        "one": _one,
        "two": _two,
        "adjacent": _adjacent,
        "companions": _companions,
        "bank": _bank,
        "all": _all,
        "dead": _with_leak(*_DEAD_MM2),
        "mild": _with_leak(0.4, 1.1),
        "late-cam": _late_cam,
        "high": _high,
        "comes-and-goes": _comes_and_goes,
        "recovers": _recovers,
        "bank-late": _bank_late,
        "worn-lobe": _worn_lobe,
        "exhaust-shut": _exhaust_shut,
    }
)

FAULTS = tuple(_MAKERS)
"""Kinds of engine fault."""

DRAWN_FAULTS = tuple(
    kind for kind in FAULTS if kind not in {"bank-late", "worn-lobe", "exhaust-shut"}
)
"""Those that a seed may draw by itself; one more would change what older seeds drew."""
