"""Cam sensors beside a crank sensor, for a crank that turns as any simulator says.

A cam turns once in two turns of the crank. Its chain gives a little, its sensor switches late by
its width of field, and a coil's pulse passes zero where a slot's edge stands.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from traces.core.compression import Array
from traces.core.waveform import Channel, Waveform
from traces.simulator.instrument import converted

CRANK_CHANNEL = "crank"
_CYCLE = 720.0
_WHEELS: tuple[tuple[int, tuple[int, ...]], ...] = (
    (60, (2,)),
    (36, (1,)),
    (36, (2, 2)),
    (24, (1,)),
    (120, (2,)),
)


@dataclass(frozen=True, slots=True)
class SimulatedCam:
    """A cam and its sensor.

    Parameters
    ----------
    name
        Its channel.
    slots
        Where each tooth of its wheel begins, and how wide it is, in crank degrees of a cycle.
    later_deg
        How much later it is than its maker wanted.
    """

    name: str
    slots: tuple[tuple[float, float], ...]
    later_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class CamRecorder:
    """The crank's wheel, and how all is recorded.

    Parameters
    ----------
    teeth, gaps
        Places in a turn, and missing teeth of each gap; the second gap stands a
        third of a turn on.
    first_deg
        Crank angle of the first tooth.
    spacing_deg
        Standard deviation of a tooth's place.
    chain_deg
        How far the chain gives with each firing, and by chance.
    rate_hz, bits, noise_share
        Of the recorder.
    """

    teeth: int = 60
    gaps: tuple[int, ...] = (2,)
    first_deg: float = 0.0
    spacing_deg: float = 0.03
    chain_deg: float = 0.3
    rate_hz: float = 50_000.0
    bits: int = 12
    noise_share: float = 0.01

    @property
    def wheel(self) -> str:
        """As it is written."""
        return "-".join(map(str, (self.teeth, *self.gaps)))


def draw_cams(seed: int, cams: int = 1) -> tuple[tuple[SimulatedCam, ...], CamRecorder]:
    """Return a seed's cams and recorder."""
    rng = np.random.default_rng([seed, 700])
    teeth, gaps = _WHEELS[int(rng.integers(len(_WHEELS)))]
    recorder = CamRecorder(
        teeth=teeth,
        gaps=gaps,
        first_deg=float(rng.uniform(0.0, 360.0)),
        spacing_deg=float(rng.uniform(0.005, 0.05)) * 60.0 / teeth,
        chain_deg=float(rng.uniform(0.1, 0.8)),
        rate_hz=float(rng.choice([5_000, 20_000, 50_000, 200_000])),
        bits=int(rng.choice([8, 12, 16])),
        noise_share=float(rng.uniform(0.001, 0.02)),
    )
    return tuple(SimulatedCam(f"cam {i + 1}", _slots(rng)) for i in range(cams)), recorder


def _slots(rng: np.random.Generator) -> tuple[tuple[float, float], ...]:
    """Return a cam wheel: one tooth, a half-moon, or three to five of unlike distance."""
    kind = int(rng.integers(3))
    begin = float(rng.uniform(0.0, _CYCLE))
    if kind == 0:
        return ((begin, float(rng.uniform(12.0, 40.0))),)
    if kind == 1:
        return ((begin, float(rng.uniform(340.0, 370.0))),)
    count = int(rng.integers(3, 6))
    pitch = _CYCLE / count
    where = [begin + i * pitch + float(rng.uniform(-0.2, 0.2)) * pitch for i in range(count)]
    return tuple((at % _CYCLE, float(rng.uniform(15.0, 0.4 * pitch))) for at in where)


def shifted(cams: Sequence[SimulatedCam], later_deg: Sequence[float]) -> tuple[SimulatedCam, ...]:
    """Return the same cams moved."""
    return tuple(replace(cam, later_deg=later) for cam, later in zip(cams, later_deg, strict=True))


def cam_capture(
    time_s: Array,
    angle_deg: Array,
    cams: Sequence[SimulatedCam],
    recorder: CamRecorder,
    seed: int,
) -> Waveform:
    """Record crank and cams of a crank that turns.

    Parameters
    ----------
    time_s, angle_deg
        When the crank stood where, from any cycle's beginning on, each of shape (steps,).
    cams, recorder
        What stands beside it, and how it is recorded.
    seed
        Of noise, chain and spacing.
    """
    rng = np.random.default_rng([seed, 701])
    samples = int((time_s[-1] - time_s[0]) * recorder.rate_hz)
    at_s = time_s[0] + np.arange(samples) / recorder.rate_hz
    turned = np.interp(at_s, time_s, angle_deg)
    channels = [
        Channel(CRANK_CHANNEL, "V", _recorded(rng, _crank(rng, turned, recorder), recorder))
    ]
    for cam in cams:
        gives = recorder.chain_deg * np.sin(np.deg2rad(turned * 2.0) + rng.uniform(0.0, 6.0))
        wander = rng.normal(0.0, 0.3, int(np.ptp(turned) // 90.0) + 2)
        slow = np.interp((turned - turned[0]) / 90.0, np.arange(wander.size), wander)
        own = (turned - cam.later_deg - gives - recorder.chain_deg * slow) % _CYCLE
        high = np.zeros(samples, dtype=bool)
        for begin, width in cam.slots:
            high |= (own - begin) % _CYCLE < width
        channels.append(Channel(cam.name, "V", _recorded(rng, high, recorder)))
    return Waveform(0.0, recorder.rate_hz, tuple(channels))


def _crank(rng: np.random.Generator, turned: Array, recorder: CamRecorder) -> np.ndarray:
    bare: set[int] = set()
    for i, missing in enumerate(recorder.gaps):
        last = recorder.teeth if i == 0 else recorder.teeth // 3 * i
        bare.update(range(last - missing, last))
    places = np.array([p for p in range(recorder.teeth) if p not in bare], dtype=np.float64)
    starts = places * 360.0 / recorder.teeth + rng.normal(0.0, recorder.spacing_deg, places.size)
    starts = np.sort(starts - starts[0])
    on_wheel = (turned - recorder.first_deg) % 360.0
    since = on_wheel - starts[np.searchsorted(starts, on_wheel, side="right") - 1]
    return since < 180.0 / recorder.teeth


def _recorded(rng: np.random.Generator, high: np.ndarray, recorder: CamRecorder) -> np.ndarray:
    volts = np.where(high, 5.0, 0.0) + rng.normal(0.0, 5.0 * recorder.noise_share, high.size)
    return np.asarray(converted(volts, recorder.bits, 10.0), dtype=np.float32)
