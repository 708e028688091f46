"""Say where each cam stands on the crank, and how late it is beside a known-good recording."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from django.core.management.base import BaseCommand

from engines.core.firing import FiringOrder, FiringOrderError
from traces.core.readers import ReadError
from traces.core.setup import CamChannel, CamSetup, SetupError, ToothWheel, Valves

if TYPE_CHECKING:
    from traces.core.cam_timing import CamReading
    from traces.core.report import CamFigures, CamsFigures

_UNUSABLE = 2


class Command(BaseCommand):
    help = __doc__ or ""
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="a recording of crank and cam sensors")
        parser.add_argument("--crank", required=True, help="its channel, by name or number")
        parser.add_argument(
            "--cam",
            action="append",
            required=True,
            metavar="CHANNEL[=BANK-VALVES]",
            help="a cam's channel, like 2, cam or cam=2-intake; once for each",
        )
        parser.add_argument("--wheel", help="of the crank, like 60-2 or 36-2-2-2")
        parser.add_argument("--firing-order", help="tells some wheels apart, like 1-3-4-2")
        parser.add_argument("--known-good", type=Path, help="a recording of the same engine")
        parser.add_argument("--sprocket-teeth", type=int, help="of the sprocket on the cam")
        parser.add_argument("--json", action="store_true", help="print the result as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        from traces.core.cam_timing import (  # noqa: PLC0415
            CamChannels,
            CamError,
            beside_good_cams,
            trouble_words,
        )

        path: Path = options["file"]
        good: Path | None = options["known_good"]
        try:
            setup = CamSetup(tuple(map(_cam, options["cam"])), options["sprocket_teeth"])
            typed = options["firing_order"]
            channels = CamChannels(
                options["crank"],
                setup.cams,
                ToothWheel.parse(options["wheel"]) if options["wheel"] else ToothWheel(),
                FiringOrder.parse(typed) if typed else None,
            )
        except (SetupError, FiringOrderError) as error:
            self._refuse(str(error))
        reading = self._read(path, channels)
        try:
            if good is None:
                figures = reading.figures()
            else:
                beside = self._read(good, channels)
                figures = beside_good_cams(reading, beside, good.name, setup.sprocket_teeth)
        except CamError as error:
            self._refuse(f"{path.name}: {trouble_words(error)}")
        self._tell(path.name, figures, as_json=options["json"])

    def _read(self, path: Path, channels: Any) -> "CamReading":
        from traces.core.cam_timing import CamError, read_cams, trouble_words  # noqa: PLC0415
        from traces.core.readers import read  # noqa: PLC0415

        try:
            return read_cams(read(path).waveform, channels)
        except ReadError as error:
            self._refuse(f"{path.name}: {error}")
        except KeyError as error:
            self._refuse(f"{path.name}: {error.args[0]}")
        except CamError as error:
            self._refuse(f"{path.name}: {trouble_words(error)}")

    def _tell(self, name: str, figures: "CamsFigures", *, as_json: bool) -> None:
        from traces.core.cam_timing import moved_words, noticed_words  # noqa: PLC0415

        sentences = [str(text) for text in (*moved_words(figures), *noticed_words(figures))]
        if as_json:
            result = {"schema": 1, "file": name} | figures.to_json() | {"messages": sentences}
            self.stdout.write(json.dumps(result, ensure_ascii=False))
            return
        self.stdout.write(
            f"{name}: {figures.state} at {figures.rpm:g} rpm, {figures.cycles:g} engine cycles, "
            f"crank wheel {figures.wheel}, its {figures.crank_side} edges"
        )
        for cam in figures.cams:
            self._tell_cam(cam, figures.known_good)
        for sentence in sentences:
            self.stdout.write(f"  {sentence}")

    def _tell_cam(self, cam: "CamFigures", known_good: str | None) -> None:
        which = [f"bank {cam.bank}" if cam.bank else "", cam.valves or ""]
        self.stdout.write(f"  {', '.join(filter(None, (cam.name, *which)))}")
        for edge in cam.edges:
            half = edge.angle.high - edge.angle.value
            self.stdout.write(
                f"    {edge.side:<7} {edge.angle.value:6.1f} degrees (+-{half:.1f}), "
                f"{edge.after_teeth:.1f} teeth after the mark; spread {edge.spread_deg:.1f}, "
                f"{edge.cycles} cycles"
            )
        if cam.beside is None:
            return
        later = cam.beside.later_deg
        teeth = ""
        if cam.beside.later_teeth is not None:
            teeth = f", {cam.beside.later_teeth:+.2f} teeth of {cam.beside.sprocket_teeth}"
            if cam.beside.whole_teeth:
                teeth += f" (fits {cam.beside.whole_teeth:+d})"
        self.stdout.write(
            f"    beside {known_good}: {cam.beside.call}, later by {later.value:+.1f} degrees "
            f"({later.low:+.1f} to {later.high:+.1f}){teeth}"
        )

    def _refuse(self, problem: str) -> NoReturn:
        self.stderr.write(problem)
        sys.exit(_UNUSABLE)


def _cam(typed: str) -> CamChannel:
    """Read a cam like `2`, `cam` or `cam=2-intake`.

    Raises
    ------
    SetupError
        If bank and valves are not written like that.
    """
    channel, equals, which = typed.rpartition("=")
    if not equals:
        return CamChannel(typed)
    bank, _, valves = which.partition("-")
    if valves not in ("", "intake", "exhaust") or bank not in ("", "1", "2"):
        raise SetupError("Write a cam as its channel, or with bank and valves like cam=2-intake.")
    kind: Valves | None = None
    if valves:
        kind = "intake" if valves == "intake" else "exhaust"
    return CamChannel(channel, int(bank) if bank else None, kind)
