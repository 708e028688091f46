"""Judge compression balance from cranking captures, without server, queue or database."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from traces.core.readers import ReadError
from traces.core.setup import SetupError
from traces.core.signal_kinds import CYLINDER_PRESSURE, DEFAULT_SIGNAL, SIGNALS, kind_of

_UNUSABLE = 2


class Command(BaseCommand):
    help = __doc__ or ""
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", nargs="?", type=Path, help="a recording, CSV or WAV")
        parser.add_argument("--manifest", type=Path, help="judge each file of this JSON-lines list")
        parser.add_argument("--out", type=Path, help="with --manifest: where results go")
        parser.add_argument("--firing-order", help="like 1-3-4-2")
        parser.add_argument(
            "--tdc-angles", help="uneven firing: degrees like 0,150,240,390,480,630"
        )
        parser.add_argument(
            "--signal",
            choices=SIGNALS,
            default=DEFAULT_SIGNAL,
            help="what the channel shows",
        )
        parser.add_argument(
            "--current-channel",
            "--channel",
            help="the channel to judge, by name or number: the clamp's, or as --signal says",
        )
        parser.add_argument("--mv-per-a", type=float, help="the clamp's scale")
        parser.add_argument(
            "--voltage-channel", help="battery voltage recorded beside the clamp, by name or number"
        )
        parser.add_argument(
            "--wheel", help="crank-teeth: the wheel's pattern like 60-2, 36-2-1-1 or 12+1"
        )
        parser.add_argument(
            "--wheel-teeth", type=int, help="crank-teeth: places a turn; found if left out"
        )
        parser.add_argument(
            "--wheel-missing", type=int, help="crank-teeth: missing teeth; found if left out"
        )
        parser.add_argument(
            "--flywheel",
            choices=("one-piece", "two-mass"),
            help="running-teeth: of the engine; a torque converter counts as one piece",
        )
        parser.add_argument("--full-scale-v", type=float, help="WAV: volts at full scale")
        parser.add_argument("--rate-hz", type=float, help="for files that do not say")
        parser.add_argument("--sync-channel", help="by name or number; none for no sync")
        parser.add_argument("--sync-cylinder", type=int)
        parser.add_argument("--sync-event", choices=("ignition", "injector", "cam"))
        parser.add_argument("--sync-every", type=int, choices=(360, 720), default=720)
        parser.add_argument(
            "--sync-bit", type=int, help="the channel is a bit mask: which bit, the lowest is 0"
        )
        parser.add_argument(
            "--sync-angle-deg",
            type=float,
            help="where the sync event stands from its cylinder's firing top dead centre, in crank "
            "degrees, negative before it",
        )
        parser.add_argument(
            "--opened-plug",
            type=int,
            help="the cylinder whose plug was out: its compression drops out and names the others; "
            "fuel and ignition both off while it is out",
        )
        pressure = parser.add_argument_group(CYLINDER_PRESSURE.code)
        pressure.add_argument(
            "--kpa-per-v", type=float, help="the transducer's scale; none where the file has a unit"
        )
        pressure.add_argument(
            "--zero-v", type=float, help="what the channel shows at the pressure of the air"
        )
        pressure.add_argument("--compression-ratio", type=float)
        pressure.add_argument("--air-kpa", type=float, help="absolute pressure of the air")
        pressure.add_argument("--cylinder", type=int, help="where the transducer sits")
        pressure.add_argument("--known-good", help="a known-good recording of that engine")
        pressure.add_argument(
            "--other",
            action="append",
            default=[],
            metavar="NUMBER=FILE",
            help="another cylinder of that engine, measured in turn; once for each",
        )
        parser.add_argument("--banks", help="cylinders of each bank, like 1,3,5/2,4,6")
        parser.add_argument(
            "--bank-even-within",
            type=float,
            help="difference of the banks' means from which one is called weaker, as a share of a "
            "good cylinder; 0.055 if left out",
        )
        parser.add_argument("--fuel", choices=("petrol", "diesel"), default="petrol")
        parser.add_argument("--json", action="store_true", help="print the result as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        if (options["file"] is None) == (options["manifest"] is None):
            self._refuse(["Give either one file or --manifest."])
        problems = self._manifest(options) if options["manifest"] else self._single(options)
        if problems:
            self._refuse(problems)

    def _single(self, options: dict[str, Any]) -> list[str]:
        from traces.core.analysis import (  # noqa: PLC0415
            Entry,
            beside_from,
            results_of,
            setup_from,
            text_of,
        )

        path: Path = options["file"]
        try:
            entered = _entered(options)
            beside = beside_from(Path(), entered["pressure"])
            entry = Entry(path, path.name, setup_from(entered), beside=beside)
        except SetupError as error:
            entry = Entry(path, path.name, None, str(error))
        result = next(results_of([entry]))
        if options["json"]:
            self.stdout.write(json.dumps(result, ensure_ascii=False))
        elif not result["error"]:
            self.stdout.write(text_of(result))
        return [f"{result['file']}: {result['error']}"] if result["error"] else []

    def _manifest(self, options: dict[str, Any]) -> list[str]:
        from traces.core.analysis import manifest_entries, results_of  # noqa: PLC0415

        if options["out"] is None:
            return ["With --manifest say where the results go: --out RESULTS.jsonl."]
        problems: list[str] = []
        try:
            entries = list(manifest_entries(options["manifest"]))
            with options["out"].open("w", encoding="utf-8") as out:
                for result in results_of(entries):
                    out.write(json.dumps(result, ensure_ascii=False) + "\n")
                    if result["error"]:
                        problems.append(f"{result['file']}: {result['error']}")
                    if options["json"]:
                        self.stdout.write(json.dumps(result, ensure_ascii=False))
        except ReadError as error:
            problems.append(str(error))
        except OSError as error:
            problems.append(f"Results cannot be written to {options['out']}: {error.strerror}.")
        return problems

    def _refuse(self, problems: list[str]) -> None:
        for problem in problems:
            self.stderr.write(problem)
        sys.exit(_UNUSABLE)


def _entered(options: dict[str, Any]) -> dict[str, Any]:
    """Return the options in the form of a manifest line."""
    kind = kind_of(options["signal"])
    needed = [*(["firing_order"] if kind.needs_order else []), "current_channel"]
    if kind.needs_scale:
        needed.append("mv_per_a")
    for option in needed:
        if options[option] is None:
            raise SetupError(f"One more option is needed: --{option.replace('_', '-')}.")
    sync = None
    if options["sync_channel"] is not None:
        if options["sync_cylinder"] is None:
            raise SetupError("Say which cylinder the sync marks: --sync-cylinder.")
        sync = {
            "channel": options["sync_channel"],
            "cylinder": options["sync_cylinder"],
            "event": options["sync_event"],
            "every_deg": options["sync_every"],
            "bit": options["sync_bit"],
            "angle_deg": options["sync_angle_deg"],
        }
    elif options["sync_cylinder"] is not None:
        raise SetupError("Say which channel holds the sync: --sync-channel.")
    return {
        "firing_order": options["firing_order"],
        "tdc_angles": options["tdc_angles"],
        "current": {
            "channel": options["current_channel"],
            "mv_per_a": options["mv_per_a"],
            "volts_per_full_scale": options["full_scale_v"],
        },
        "signal": options["signal"],
        "voltage_channel": options["voltage_channel"],
        "wheel": {
            "teeth": options["wheel_teeth"],
            "missing": options["wheel_missing"],
            "pattern": options["wheel"],
        },
        "flywheel": options["flywheel"],
        "sync": sync,
        "opened_plug": options["opened_plug"],
        "banks": _banks(options["banks"]),
        "bank_even_within": options["bank_even_within"],
        "pressure": _pressure(options),
        "fuel": options["fuel"],
        "rate_hz": options["rate_hz"],
    }


def _pressure(options: dict[str, Any]) -> dict[str, Any] | None:
    names = ("kpa_per_v", "zero_v", "compression_ratio", "air_kpa", "cylinder", "known_good")
    given = {name: options[name] for name in names if options[name] is not None}
    others = {}
    for other in options["other"]:
        number, equals, file = other.partition("=")
        if not (equals and number.strip().isdigit() and file) or number.strip() in others:
            raise SetupError("Give each other cylinder once, as --other 2=second.csv.")
        others[number.strip()] = file
    if others:
        given["others"] = others
    if not given:
        return None
    if kind_of(options["signal"]).needs_order:
        raise SetupError(
            "--kpa-per-v, --known-good and their like belong to one cylinder's pressure; say so by "
            "--signal."
        )
    return given


def _banks(typed: str | None) -> list[list[int]] | None:
    if typed is None:
        return None
    try:
        return [[int(cylinder) for cylinder in bank.split(",")] for bank in typed.split("/")]
    except ValueError:
        raise SetupError("Banks are cylinder numbers like 1,3,5/2,4,6.") from None
