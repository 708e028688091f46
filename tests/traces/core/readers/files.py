"""The same recording in every format that is read: two channels, 500 samples at 1 kHz."""

import gzip
import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import asammdf
import h5py
import nptdms
import numpy as np
import soundfile

from engines.core.firing import FiringOrder
from traces.core.case.case import Case, CaseChannel, told_result
from traces.core.exports.case_writing import write_case
from traces.core.report.results import Report
from traces.core.setup.analysis_setup import AnalysisSetup, SyncSetup
from traces.core.setup.conditions import Conditions
from traces.core.waveform.waveform import Channel

RATE_HZ = 1000.0
SAMPLES = 500
TIMES_S = np.arange(SAMPLES) / RATE_HZ
A = (0.4 + 0.3 * np.sin(2 * np.pi * 8 * TIMES_S)).astype(np.float32)
B = np.where((TIMES_S * 10) % 1 < 0.1, 0.75, 0.0625).astype(np.float32)


def _text() -> bytes:
    rows = "\n".join(f"{t:.3f},{a:.6f},{b:.4f}" for t, a, b in zip(TIMES_S, A, B, strict=True))
    return f"Time [s],clamp [V],coil [V]\n{rows}\n".encode()


def _sound(kind: str, subtype: str, rate_hz: int = 1000) -> bytes:
    file = io.BytesIO()
    soundfile.write(file, np.column_stack([A, B]), rate_hz, format=kind, subtype=subtype)
    return file.getvalue()


def _npz() -> bytes:
    file = io.BytesIO()
    np.savez_compressed(file, time=TIMES_S, clamp=A, coil=B)
    return file.getvalue()


def _npy() -> bytes:
    file = io.BytesIO()
    np.save(file, np.stack([A, B]))
    return file.getvalue()


def _hdf5() -> bytes:
    file = io.BytesIO()
    with h5py.File(file, "w") as made:
        group = made.create_group("capture")
        group.attrs["sample_rate"] = RATE_HZ
        for name, values in (("clamp", A), ("coil", B)):
            data = group.create_dataset(name, data=values, chunks=(128,), compression="gzip")
            data.attrs["unit"] = "V"
    return file.getvalue()


def _tdms() -> bytes:
    file = io.BytesIO()
    about = {"wf_increment": 1 / RATE_HZ, "wf_start_offset": 0.0, "unit_string": "V"}
    with nptdms.TdmsWriter(file) as made:
        for part in (slice(0, 200), slice(200, None)):
            made.write_segment(
                [
                    nptdms.ChannelObject("G", n, v[part], about)
                    for n, v in (("clamp", A), ("coil", B))
                ]
            )
    return file.getvalue()


def _mdf4() -> bytes:
    file = io.BytesIO()
    with asammdf.MDF(version="4.10") as made:
        made.append(
            [asammdf.Signal(v, TIMES_S, name=n, unit="V") for n, v in (("clamp", A), ("coil", B))]
        )
        made.save(file)
    return file.getvalue()


def zipped(**members: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in members.items():
            made.writestr(name.replace("__", "."), content)
    return file.getvalue()


def a_case() -> Case:
    """Return a case of the recording: an inline four, a clamp, and a pick-up on a coil."""
    setup = AnalysisSetup(
        firing_order=FiringOrder.parse("1-3-4-2"),
        current_channel="clamp",
        mv_per_a=10.0,
        sync=SyncSetup("sync", 1),
    )
    return Case(
        setup=setup,
        conditions=Conditions(fuel_off=True, throttle="closed", battery_v=12.6),
        layout="I4",
        channels=(CaseChannel("clamp", "V"), CaseChannel("sync", "V")),
        read_as="WAV",
        rate_hz=RATE_HZ,
        start_s=0.0,
        samples=0,
        full_scale=False,
        part="whole",
        sha256="",
        code_version="0.1.0",
        result=told_result(Report(verdict="not judged"), {}, 0.0),
    )


def _case() -> bytes:
    file = io.BytesIO()
    write_case(file, a_case(), [Channel("clamp", "V", A.copy()), Channel("coil", "V", B.copy())])
    return file.getvalue()


MAKERS: dict[str, Callable[[], bytes]] = {
    "delimited text": _text,
    "WAV": lambda: _sound("WAV", "PCM_24"),
    "FLAC": lambda: _sound("FLAC", "PCM_16"),
    "Ogg": lambda: _sound("OGG", "VORBIS", 8000),
    "NumPy": _npz,
    "NumPy, one array": _npy,
    "HDF5": _hdf5,
    "TDMS": _tdms,
    "MDF4": _mdf4,
    "case": _case,
    "zipped text": lambda: zipped(crank__csv=_text()),
    "zipped WAV": lambda: zipped(crank__wav=_sound("WAV", "FLOAT")),
    "zipped HDF5": lambda: zipped(crank__h5=_hdf5()),
    "gzipped text": lambda: gzip.compress(_text(), mtime=0),
    "gzipped FLAC": lambda: gzip.compress(_sound("FLAC", "PCM_24"), mtime=0),
}
FORMATS = {
    "NumPy, one array": "NumPy",
    "zipped text": "delimited text",
    "zipped WAV": "WAV",
    "zipped HDF5": "HDF5",
    "gzipped text": "delimited text",
    "gzipped FLAC": "FLAC",
}
_made: dict[str, bytes] = {}


def content(kind: str) -> bytes:
    """Return the recording in a format, made once."""
    if kind not in _made:
        _made[kind] = MAKERS[kind]()
    return _made[kind]


def written(kind: str, folder: Path) -> Path:
    path = folder / f"{kind.replace(' ', '-')}.bin"
    path.write_bytes(content(kind))
    return path
