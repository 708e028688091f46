"""Say whether an engine sounds even while it is cranked, from a sound file."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from traces.core.readers import ReadError

_UNUSABLE = 2
_LEAST_CYLINDERS, _MOST_CYLINDERS = 2, 12


class Command(BaseCommand):
    help = __doc__ or ""
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="a recording: WAV, FLAC or Ogg")
        parser.add_argument("--cylinders", type=int, required=True, help="of the engine, 2 to 12")
        parser.add_argument("--channel", default="1", help="by name or number from 1")
        parser.add_argument("--json", action="store_true", help="print the result as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        from traces.core.cranking_sound import heard_words, judge_sound  # noqa: PLC0415
        from traces.core.readers import read  # noqa: PLC0415

        path: Path = options["file"]
        cylinders: int = options["cylinders"]
        if not _LEAST_CYLINDERS <= cylinders <= _MOST_CYLINDERS:
            self._refuse("Cylinders are a number from 2 to 12.")
        try:
            waveform = read(path).waveform
            samples = waveform.channel(options["channel"]).values
        except ReadError as error:
            self._refuse(f"{path.name}: {error}")
        except KeyError as error:
            self._refuse(f"{path.name}: {error.args[0]}")
        heard = judge_sound(samples, waveform.rate_hz, cylinders)
        answer, beside = map(str, heard_words(heard))
        if options["json"]:
            result = {
                "schema": 1,
                "file": path.name,
                "sounds": heard.answer,
                "reason": heard.reason or None,
                "cranking_rpm": heard.rpm,
                "cycles": heard.cycles,
                "from_s": heard.from_s,
                "to_s": heard.to_s,
                "message": " ".join(filter(None, (answer, beside))),
            }
            self.stdout.write(json.dumps(result, ensure_ascii=False))
            return
        self.stdout.write(f"{path.name}: {heard.answer}")
        if heard.rpm is not None:
            self.stdout.write(f"  {heard.rpm} rpm, {heard.cycles} engine cycles compared")
        for sentence in filter(None, (answer, beside)):
            self.stdout.write(f"  {sentence}")

    def _refuse(self, problem: str) -> None:
        self.stderr.write(problem)
        sys.exit(_UNUSABLE)
